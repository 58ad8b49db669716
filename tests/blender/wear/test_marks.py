"""Marks as Cycles shows them: in real units, however a brick is turned and scaled."""

import numpy as np
import pytest

from addon.core.wear.layers import Scratches, Smudges, Wear
from addon.core.wear.texture import Levels, Texture
from addon.nodes import builder
from addon.nodes.groups.coordinates import coordinates
from addon.nodes.groups.picture import marks, read_as
from addon.nodes.groups.scratches import scratches
from tests.blender.wear.renders import RED, WHITE, apart, cube, lay_marks, look, picture_of, render, shining, shown


@pytest.mark.parametrize("colour", [RED, WHITE], ids=["dark", "pale"])
def test_a_scratch_is_greyer_than_what_it_lies_in(colour, tmp_path):
    """By a share of 0.275 of the way to grey at most, on red paler and on white darker; elsewhere all is as it was."""
    shining(colour, Wear(0.0, Scratches(1.0, 40.0, 6.0), Smudges(0.0, 60.0)))
    green = render(tmp_path, 64, 1)[..., 1].astype(float)
    share = (green - colour[1]) / (0.46 - colour[1])
    assert share.min() > -1e-5
    assert share.min() < 0.01
    assert 0.02 < share.max() < 0.276
    assert apart(np.full(3, colour[1]), np.full(3, colour[1] + 0.275 * (0.46 - colour[1]))) > 2.3  # seen on both


@pytest.mark.parametrize("towards", [(0.0, 0.0, 0.0), (np.pi / 2, 0.0, 0.0), (np.pi / 2, 0.0, np.pi / 2)], ids="zyx")
@pytest.mark.parametrize("key", [11, 52, 93])
def test_stripes_keep_their_real_width_on_all_sides_however_they_are_turned(key, towards, tmp_path):
    """Eight waves in 16 mm are 0.5 per mm. Outside check: the peak of the discrete Fourier transform of the picture."""
    waves = 0.5 + 0.5 * np.cos(2.0 * np.pi * 8.0 * (np.arange(256) + 0.5) / 256)
    image = picture_of(np.broadcast_to(waves, (256, 256)))

    def build(b):
        brick = b.subgroup(coordinates(), {})
        b.output("Shine", marks(b, image, builder.group_socket(brick, "OUTPUT", "Place"), b.math("ADD", 16.0, 0.0)))
        read_as(b.tree, Levels())

    lay_marks(cube(64.0, shown("Mark", build)), key)
    look(50.0, towards)
    seen = render(tmp_path, 128, 4)[..., 0]
    window = np.hanning(128)
    power = np.abs(np.fft.fft2((seen - seen.mean()) * window * window[:, None], (2048, 2048)))
    row, column = np.unravel_index(power[:, :1024].argmax(), (2048, 1024))
    frequencies = np.fft.fftfreq(2048, 50.0 / 128)
    assert np.hypot(frequencies[row], frequencies[column]) == pytest.approx(0.5, rel=0.02)


@pytest.mark.parametrize("units_per_mm", [1.0, 0.001])
@pytest.mark.parametrize("object_scale", [1.0, 2.5])
def test_a_groove_has_its_real_slope_in_any_scale(units_per_mm, object_scale, tmp_path):
    """A ramp 500 µm deep over 10 mm leans by atan(0.05), in a build in mm or in metres, on a scaled object too."""
    image = picture_of(np.broadcast_to((np.arange(512) + 0.5) / 512, (512, 512)))
    tree = scratches(Texture(image, Levels()), grooves=True)

    def build(b):
        place = builder.group_socket(b.subgroup(coordinates(), {}), "OUTPUT", "Place")
        size = {"Size": 10.0, "Depth": 500.0, "Scale": units_per_mm}
        full = {"Place": place, "Amount": b.math("ADD", 1.0, 0.0)} | size
        normal = builder.socket(b.add("ShaderNodeNewGeometry").outputs, "Normal")
        scored = builder.group_socket(b.subgroup(tree, full | {"Normal": normal}), "OUTPUT", "Normal")
        parts = b.add("ShaderNodeSeparateXYZ", "", {"Vector": scored})
        b.output("Shine", builder.socket(parts.outputs, "Z"))

    brick = cube(40.0, shown("Upright", build), units_per_mm / object_scale)
    brick.scale = (object_scale,) * 3
    look(30.0 * units_per_mm, distance=100.0 * units_per_mm)
    upright = np.median(render(tmp_path, 32, 1)[..., 0])
    assert np.tan(np.arccos(upright)) == pytest.approx(0.05, rel=0.02)
