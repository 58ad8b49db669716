"""Pictures that are no squares keep their shape on every side of a brick, however their marks are turned."""

import bpy
import numpy as np
import pytest
from scipy import ndimage

from addon.core.wear.texture import Levels, Texture
from addon.nodes import builder
from addon.nodes.builder import group_socket
from addon.nodes.groups.coordinates import coordinates
from addon.nodes.groups.dust import dust
from addon.nodes.groups.picture import marks
from addon.nodes.groups.scratches import scratches
from addon.nodes.groups.smudges import smudges
from tests.blender.wear.renders import cube, lay_marks, look, picture_of, render, shown

SIZE_MM, RADIUS_MM, SIDE_MM, PIXELS = 8.0, 1.0, 16.0, 256
QUARTER = np.pi / 2.0
SIDES = {
    "top": (0.0, 0.0, 0.0), "bottom": (2.0 * QUARTER, 0.0, 0.0), "front": (QUARTER, 0.0, 0.0),
    "back": (QUARTER, 0.0, 2.0 * QUARTER), "right": (QUARTER, 0.0, QUARTER), "left": (QUARTER, 0.0, -QUARTER),
}  # fmt: skip


def disc(width, height):
    """A picture with a disc in its middle, an eighth of its width in radius."""
    up, right = np.mgrid[0:height, 0:width] + 0.5
    away = np.hypot(up - 0.5 * height, right - 0.5 * width)
    return np.clip(RADIUS_MM / SIZE_MM * width - away + 0.5, 0.0, 1.0)


@pytest.mark.shared_out
@pytest.mark.parametrize("shape", [(256, 128), (128, 96), (128, 256), (128, 128)])
@pytest.mark.parametrize("key", [37, 5])
def test_a_disc_is_round_and_as_large_on_every_side(shape, key, tmp_path):
    """Closed forms: a disc covers pi r^2, and its second moments are r^2 / 4 every way."""
    image = picture_of(disc(*shape))

    def laid(b):
        place = group_socket(b.subgroup(coordinates(), {}), "OUTPUT", "Place")
        b.output("Shine", marks(b, image, place, b.math("ADD", SIZE_MM, 0.0)))

    lay_marks(cube(SIDE_MM, shown("Shine", laid)), key)
    for side, towards in SIDES.items():
        look(SIDE_MM, towards)
        seen = render(tmp_path, PIXELS, 4)[..., 0] > 0.5
        areas, widest, narrowest = np.array(measured(seen)).T
        assert areas == pytest.approx(np.pi * RADIUS_MM**2, rel=0.04), side
        assert widest == pytest.approx(RADIUS_MM / 2.0, rel=0.04), side
        assert narrowest == pytest.approx(RADIUS_MM / 2.0, rel=0.04), side


def measured(seen):
    """Area, and deviation along the widest and the narrowest way, of each spot that lies whole within the picture."""
    spots, count = ndimage.label(seen)
    cut = {*spots[0], *spots[-1], *spots[:, 0], *spots[:, -1]}
    found = []
    for n in set(range(1, count + 1)) - cut:
        places = np.argwhere(spots == n) * (SIDE_MM / PIXELS)
        deviations = np.sqrt(np.linalg.eigvalsh(np.cov(places.T)))
        found.append((len(places) * (SIDE_MM / PIXELS) ** 2, deviations[1], deviations[0]))
    return found


@pytest.mark.parametrize(
    "layer", [lambda t: scratches(t, True), lambda t: scratches(t, False), smudges, lambda t: dust(t, True)]
)
def test_no_layer_looks_a_picture_up_more_often_and_a_square_one_costs_nothing_more(layer):
    square, oblong = (layer(Texture(picture_of(disc(*shape)), Levels())) for shape in ((64, 64), (64, 32)))
    kinds = [[node.bl_idname for node in tree.nodes] for tree in (square, oblong)]
    assert kinds[0].count("ShaderNodeTexImage") == kinds[1].count("ShaderNodeTexImage") == 1
    assert "ShaderNodeSeparateXYZ" not in kinds[0] or builder.stamp(square) == "dust"


def test_a_picture_that_got_another_shape_is_laid_by_it_when_it_is_put_in_anew():
    image = picture_of(disc(64, 32))
    first = smudges(Texture(image, Levels()))
    image.scale(96, 32)
    again = smudges(Texture(image, Levels()))
    assert again == first
    ratios = [node.inputs[1].default_value for node in again.nodes if node.name.startswith("As high as wide")]
    assert ratios == [3.0, 3.0]
    image.scale(32, 32)
    assert smudges(Texture(image, Levels())) != first
    assert len([tree for tree in bpy.data.node_groups if builder.stamp(tree)]) == 2
