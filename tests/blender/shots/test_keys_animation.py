"""Keys of ours beside the artist's own animation, which plays on and stays."""

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from addon.scene.shots import keys
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import APPLIED, SHOTS, animate, artists_wall, busy_wall, deltas, everything, push_down
from tests.blender.test_usecases import differing

pytestmark = pytest.mark.usefixtures("extension")  # the record of the bricks' own deltas is a registered property


def test_an_artists_own_animation_plays_on_beside_ours_and_stays_when_it_goes():
    """The world matrices less our deltas are those of the artist's animation alone."""
    build, scene = busy_wall(), bpy.context.scene
    theirs = ("location", "rotation_euler", "rotation_quaternion", "scale")

    def played() -> dict:
        seen = {}
        for frame in (1, 15, 33, 60, 90):
            scene.frame_set(frame)
            seen[frame] = {thing.name: [tuple(getattr(thing, name)) for name in theirs] for thing in build.objects}
            seen[frame]["scene"] = scene["mine"]
        scene.frame_set(1)
        return seen

    alone = played()
    assert alone[1] != alone[15] != alone[60]
    clean = everything()
    usecases.apply(build, PRESET, APPLIED)
    applied = everything()
    told = usecases.on_timeline(build, SHOTS)
    assert told.skipped == ()
    assert played() == alone
    own = build.objects[0].animation_data.action
    assert own.name == clean["animation"][build.objects[0].name][0]
    seen = set()
    for frame in (10, 30, 50):
        scene.frame_set(frame)
        seen |= {(n, bytes(np.array(thing.delta_location, np.float32))) for n, thing in enumerate(build.objects)}
    moving = {n for n, _ in seen if sum(n == other for other, _ in seen) > 1}
    assert {0, 1, 2, 3, 4, 5} <= moving
    scene.frame_set(1)
    usecases.off_timeline(build)
    assert differing(applied, everything()) == []
    usecases.on_timeline(build, SHOTS)
    usecases.clear(build)
    assert differing(clean, everything()) == []
    assert played() == alone


def test_what_cannot_be_keyed_without_touching_the_artists_is_listed_and_stands_as_applied():
    build, scene = artists_wall(), bpy.context.scene
    bricks = list(build.objects)
    animate(bricks[0], "delta_location", 2, 0.0, 0.01)
    animate(bricks[1], "location", 2, 0.0, 0.01)
    bricks[2].animation_data_create().action = bricks[1].animation_data.action
    bricks[2].animation_data.action_slot = bricks[1].animation_data.action_slot
    animate(bricks[3], "location", 2, 0.0, 0.01)
    push_down(bricks[3])
    bricks[3].animation_data.action_blend_type = "ADD"
    animate(bricks[4], "delta_scale", 0, 1.0, 1.0)
    push_down(bricks[4])
    scene["playworn_more_dust"] = 0.0
    scene.keyframe_insert('["playworn_more_dust"]', frame=1)
    scene.frame_set(1)
    told_at_apply = {left.object: left.reason for left in usecases.apply(build, PRESET, APPLIED).skipped}
    assert set(told_at_apply) == {bricks[0].name, bricks[4].name}
    before = everything()
    told = {left.object: left.reason for left in usecases.on_timeline(build, SHOTS).skipped}
    assert {name.split()[-1] for name in told} == {thing.name for thing in bricks[1:4]} | {"playworn_more_dust"}
    assert "shares its action" in told[bricks[1].name]
    assert "mixed with strips" in told[bricks[3].name]
    still = [tuple(brick.delta_location) for brick in bricks[1:4]]
    scene.frame_set(60)
    assert [tuple(brick.delta_location) for brick in bricks[1:4]] == still
    scene.frame_set(1)
    usecases.off_timeline(build)
    assert differing(before, everything()) == []


def test_an_artists_keys_put_into_our_action_stay():
    build, scene = artists_wall(), bpy.context.scene
    brick = build.objects[3]
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    animate(brick, "location", 2, 0.0, 0.1, 0.2)
    usecases.on_timeline(build, SHOTS[:3])
    usecases.off_timeline(build)
    assert [curve.data_path for curve in compat.curves(brick.animation_data)] == ["location"]
    scene.frame_set(41)
    assert brick.location.z == pytest.approx(0.2)
    (left,) = bpy.data.actions
    assert [slot.identifier for slot in left.slots] == [f"OB{brick.name}"]
    assert (left.name, list(left.keys())) == (f"{brick.name}Action", [])


def test_keys_of_two_bricks_put_into_our_action_are_an_action_each_and_come_back_with_a_job_that_fails(monkeypatch):
    """As Blender makes them where there is none."""
    build, scene = artists_wall(), bpy.context.scene
    bricks = [build.objects[3], build.objects[4]]
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    for number, brick in enumerate(bricks):
        animate(brick, "location", 2, 0.0, 0.1 + number, 0.2)
    before = by_path()
    monkeypatch.setattr(keys.deltas, "release", raising)
    with pytest.raises(MemoryError):
        usecases.off_timeline(build)
    monkeypatch.undo()
    assert differing(before, by_path()) == []
    usecases.clear(build)
    assert sorted(each.name for each in bpy.data.actions) == sorted(f"{brick.name}Action" for brick in bricks)
    for number, brick in enumerate(bricks):
        scene.frame_set(21)
        assert brick.location.z == pytest.approx(0.1 + number)


def by_path() -> dict:
    """Everything, an action's curves whatever their order."""
    found = everything()
    of_all = found["animation"].items()
    return found | {"animation": {name: (*each[:2], sorted(each[2], key=str), *each[3:]) for name, each in of_all}}


def raising(*_):
    raise MemoryError("on purpose")


def test_a_nudge_before_the_keys_is_the_artists_and_one_on_a_keyed_delta_is_not():
    build, scene = artists_wall(), bpy.context.scene
    clean = deltas()
    usecases.apply(build, PRESET, APPLIED)
    brick = build.objects[5]
    brick.delta_location.z += 0.004
    nudged = deltas()
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(60)
    usecases.off_timeline(build)
    assert deltas() == nudged
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(60)
    assert brick.delta_location.z == pytest.approx(0.004, abs=0.0003)
    usecases.clear(build)
    assert brick.delta_location.z == pytest.approx(0.004, abs=1e-7)
    assert {name: bits for name, bits in deltas().items() if name != brick.name} == {
        name: bits for name, bits in clean.items() if name != brick.name
    }
