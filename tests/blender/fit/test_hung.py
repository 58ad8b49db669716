"""What an artist hangs on bricks: whenever it was hung, cleared it stands where Blender would have kept it.

Against Blender's own operator on a build without us.
"""

from dataclasses import replace

import bpy
import numpy as np
import pytest
from mathutils import Euler, Matrix

from addon import usecases
from addon.scene import files
from tests.blender import scenes
from tests.blender.fit.test_hand import (
    BUILDS,
    DIALS,
    Things,
    apart,
    bricks,
    bring_elsewhere,
    clear_deltas,
    clear_location,
    move,
    points,
    rooted,
    select,
    turn,
    wall,
)
from tests.blender.scenes import PRESET

pytestmark = pytest.mark.usefixtures("extension")


def hang(build: bpy.types.Collection) -> bpy.types.Object:
    """Another object and a brick are hung on two bricks, as Ctrl-P, Object (Keep Transform) does it; how the first
    stands is asked for."""
    flag = scenes.put(bpy.context.scene.collection, None, "flag")
    flag.matrix_world = Matrix.Translation((0.4, -0.3, 0.2)) @ Euler((0.1, 0.2, 0.3)).to_matrix().to_4x4()
    bpy.context.view_layer.update()
    some = bricks(build)
    for child, above in ((flag, some[1]), (some[3], some[2])):
        select([above, child])
        bpy.ops.object.parent_set(type="OBJECT", keep_transform=True)
    bpy.context.view_layer.update()
    return flag


def everywhere(build: bpy.types.Collection, flag: bpy.types.Object) -> dict[str, np.ndarray]:
    return points(build) | {"flag": np.array(flag.matrix_world)}


@pytest.mark.shared_out
@pytest.mark.parametrize("make", BUILDS.values(), ids=BUILDS)
@pytest.mark.parametrize("then", ["clear", "dial", "apply", "clear everything"])
def test_what_was_hung_on_worn_bricks_stands_after_clear_where_it_stood_before(make, then):
    never = make()
    expected = everywhere(never, hang(never))
    files.new()
    worn = make()
    usecases.apply(worn, PRESET, DIALS)
    bpy.context.view_layer.update()
    flag = hang(worn)
    if then == "dial":
        usecases.dial(worn, PRESET, replace(DIALS, seed=9, looseness=2.0))
    if then == "apply":
        usecases.apply(worn, replace(PRESET, fit=replace(PRESET.fit, clearance_mm=0.2)), replace(DIALS, seed=9))
    if then == "clear everything":
        usecases.clear_everything()
    else:
        usecases.clear(worn)
    assert apart(everywhere(worn, flag), expected) < 1e-6


def test_what_hangs_in_a_row_on_worn_bricks_goes_along_with_the_first():
    def row(build: bpy.types.Collection) -> dict[str, np.ndarray]:
        bpy.context.view_layer.update()
        some = bricks(build)
        for above, child in ((3, 1), (1, 2), (2, 0)):
            select([some[above], some[child]])
            bpy.ops.object.parent_set(type="OBJECT", keep_transform=True)
        move([some[3]])
        turn([some[3]])
        move([some[2]])
        return points(build)

    expected = row(wall())
    files.new()
    worn = wall()
    usecases.apply(worn, PRESET, DIALS)
    row(worn)
    usecases.clear(worn)
    assert apart(points(worn), expected) < 1e-6


def clear_all(things: Things) -> None:
    """Alt-G, Alt-R and Alt-S with Clear Delta."""
    select(things)
    for of in (bpy.ops.object.location_clear, bpy.ops.object.rotation_clear, bpy.ops.object.scale_clear):
        of(clear_delta=True)


@pytest.mark.shared_out
@pytest.mark.parametrize("make", BUILDS.values(), ids=BUILDS)
@pytest.mark.parametrize("act", [move, turn, clear_deltas, clear_location, clear_all, bring_elsewhere])
def test_what_was_hung_goes_along_with_a_brick_that_is_moved_since(act, make):
    """By what the brick itself is moved: none of our motion is left, which long arms make larger."""
    never = make()
    flag = hang(never)
    act(bricks(never)[1:3])
    expected = everywhere(never, flag)
    files.new()
    worn = make()
    usecases.apply(worn, PRESET, DIALS)
    bpy.context.view_layer.update()
    flag = hang(worn)
    act(bricks(worn)[1:3])
    bpy.context.view_layer.update()
    usecases.clear(worn)
    assert apart(everywhere(worn, flag), expected) < 1e-6


def test_what_hung_on_bricks_before_keeps_its_inverse_to_the_bit():
    worn = rooted()
    hang(worn)
    before = {thing: [tuple(row) for row in thing.matrix_parent_inverse] for thing in bpy.data.objects}
    for seed in (7, 8):
        usecases.apply(worn, PRESET, replace(DIALS, seed=seed))
        usecases.dial(worn, PRESET, replace(DIALS, looseness=0.0))
    usecases.clear(worn)
    assert {thing: [tuple(row) for row in thing.matrix_parent_inverse] for thing in bpy.data.objects} == before
