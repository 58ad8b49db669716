"""The worked example of the guide: dust dialled after the render, by its mask, against a render with that dial."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.wear.layers import Dust, Scratches, Wear
from addon.nodes.groups.dust import _COLOUR
from tests.blender import scenes
from tests.render.layered import Layered

LESS = 0.3
CLEAR = 0.95  # a mask beyond it leaves too little of the colour below
DIALS = usecases.Dials(seed=7)
HALF = "half"


@pytest.fixture
def frames(set_up, tmp_path):
    """The dusty wall from above, rendered at the preset's dust with a second view layer at half of it, and at 0.7."""
    scene = bpy.context.scene
    scene.camera.location, scene.camera.rotation_euler = (0.056, -0.045, 0.09), (0.8, 0.0, 0.1)
    scene.cycles.samples = 64
    wear = Wear(0.2, Scratches(0.0, 40.0, 3.0), dust=Dust(0.5, 30.0))
    usecases.apply(set_up, replace(scenes.PRESET, wear=wear), DIALS)
    scene.view_layers[0].name = "ViewLayer"
    scene.view_layers.new(HALF)["playworn_more_dust"] = -0.5

    def at(dial: float) -> Layered:
        scene["playworn_more_dust"] = dial - 1.0
        scene.update_tag()
        (shot,) = usecases.list_shots(scene)
        usecases.render_shots(set_up, scene, [replace(shot, first=1, last=1)], tmp_path, anew=True)
        return Layered(tmp_path / "scene.0001.exr")

    return at(1.0), at(1.0 - LESS)


def change(frame: Layered) -> np.ndarray:
    """By how much the albedo is another with so much less dust: what the guide has a compositor work out."""
    mask = np.minimum(frame.value("playworn_dust"), CLEAR)[..., None]
    return LESS * mask / (1.0 - mask) * (frame.albedo - _COLOUR)


def off(frame: np.ndarray, wanted: np.ndarray, there: np.ndarray) -> float:
    """How far two pictures differ where there is dust, by the means of blocks of 8 pixels: noise is no difference."""
    blocks = [(each * there[..., None]).reshape(8, 8, 8, 8, 3).sum(axis=(1, 3)) for each in (frame, wanted)]
    return float(np.abs(blocks[0] - blocks[1]).sum() / there.sum())


def test_dust_is_dialled_after_the_render(frames):
    dusty, wanted = frames
    there = dusty.value("playworn_dust") > 0.02
    assert there.mean() > 0.1
    beauty, aim = dusty.colour("Combined"), wanted.colour("Combined")

    # By the mask: the colour as the dial gives it, by its light a picture that lacks the change in gloss alone.
    assert off(dusty.albedo + change(dusty), wanted.albedo, there) < 0.05 * off(dusty.albedo, wanted.albedo, there)
    assert off(beauty + change(dusty) * dusty.light, aim, there) < 0.25 * off(beauty, aim, there)

    # By a second view layer at half the dust: the gloss too.
    share = LESS / 0.5
    mixed = (1.0 - share) * beauty + share * dusty.colour("Combined", layer=HALF)
    assert off(mixed, aim, there) < 0.15 * off(beauty, aim, there)
