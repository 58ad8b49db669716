"""What an artist does to bricks while keys of ours move them: cleared they stand where the same hand brings them.

Against Blender on a build without us.
"""

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.scene import files
from tests.blender.fit.test_hand import (
    Things,
    apart,
    bricks,
    bring_elsewhere,
    into_deltas,
    move,
    parent,
    points,
    turn,
    unparent,
)
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import APPLIED, SHOTS, artists_wall

pytestmark = pytest.mark.usefixtures("extension")


def turn_one_by_one(things: Things) -> None:
    """R on each, with a 3D cursor as its pivot, far off."""
    bpy.context.scene.cursor.location = (0.4, 0.3, -0.2)
    for thing in things:
        bpy.ops.object.select_all(action="DESELECT")
        thing.select_set(True)
        bpy.ops.transform.rotate(value=0.7, orient_axis="Y", orient_type="GLOBAL", center_override=(0.4, 0.3, -0.2))


def never_worn(act) -> np.ndarray:
    """Where the corners of bricks are that were moved and never worn; leaves an empty file."""
    wall = artists_wall()
    bpy.context.view_layer.update()
    act(bricks(wall))
    expected = points(wall)
    files.new()
    return expected


def transforms_to_deltas(things: Things) -> None:
    """Into the very deltas that the keys move: the next frame shows nothing of it any more."""
    into_deltas("ALL")(things)


HANDS = [move, turn, turn_one_by_one, bring_elsewhere, parent, unparent, transforms_to_deltas]


@pytest.mark.shared_out
@pytest.mark.parametrize("act", HANDS)
def test_bricks_that_were_moved_before_keys_of_ours_stand_after_clear_as_moved_without(act):
    expected = never_worn(act)
    build = artists_wall()
    usecases.apply(build, PRESET, APPLIED)
    bpy.context.view_layer.update()
    act(bricks(build))
    bpy.context.view_layer.update()
    usecases.on_timeline(build, SHOTS)
    bpy.context.scene.frame_set(55)
    usecases.clear(build)
    assert apart(points(build), expected) < 1e-6


@pytest.mark.shared_out
@pytest.mark.parametrize("act", HANDS)
@pytest.mark.parametrize("then", ["clear", "off the timeline", "apply", "on the timeline again", "clear everything"])
def test_bricks_that_are_moved_beneath_keys_of_ours_stand_after_clear_as_moved_without(act, then):
    expected = never_worn(act)
    build = artists_wall()
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    bpy.context.scene.frame_set(55)
    act(bricks(build))
    bpy.context.view_layer.update()
    if then == "off the timeline":
        usecases.off_timeline(build)
    if then == "apply":
        usecases.apply(build, PRESET, APPLIED)
    if then == "on the timeline again":
        usecases.on_timeline(build, SHOTS[:2])
        bpy.context.scene.frame_set(80)
    if then == "clear everything":
        usecases.clear_everything()
    else:
        usecases.clear(build)
    assert apart(points(build), expected) < 1e-6
