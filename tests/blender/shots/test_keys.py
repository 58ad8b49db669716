"""Dials on the timeline: every frame is what its shot alone would be, and all of it comes off without a trace."""

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from addon.core.errors import BuildProblem, DialProblem, ShotProblem
from addon.core.shots.shot import Shot
from addon.scene import curves
from addon.scene.wear import stamps
from tests.blender import scenes
from tests.blender.scenes import PRESET
from tests.blender.test_usecases import differing, now
from tests.blender.wear.test_wear_render import look, render

APPLIED = usecases.Dials(seed=7)
SHOTS = (
    usecases.OnFrame("wide", 10, usecases.Dials(seed=7, looseness=1.6, wear=1.5), {"dust": 1.5}),
    usecases.OnFrame("middle", 30, APPLIED),
    usecases.OnFrame("macro", 50, usecases.Dials(seed=7, looseness=0.4, wear=0.5), {"dust": 0.0, "rub": 1.25}),
    usecases.OnFrame("other hands", 70, usecases.Dials(seed=8)),
)
SHOT_AT = {1: 0, 9: 0, 10: 0, 29: 0, 30: 1, 49: 1, 50: 2, 69: 2, 70: 3, 500: 3}


@pytest.fixture(autouse=True)
def registered(extension):
    """The record of the bricks' own deltas is a registered property."""


def artists_wall() -> bpy.types.Collection:
    """A wall of bricks in all rotation modes, with deltas, parents and, on some, animation of the artist's own."""
    build = scenes.wall()
    parent = scenes.put(bpy.context.scene.collection, None, "table", (0.3, 0.0, 0.1))
    for number, thing in enumerate(build.objects):
        thing.delta_location.x = 0.0001 * (number % 3)
        thing.rotation_mode = ("XYZ", "QUATERNION", "ZYX")[number % 3]
        thing.parent = parent if number % 2 else None
    return build


def everything() -> dict:
    """All of `test_usecases.all_of_it`, and all curves."""
    owners = [*bpy.data.objects, *bpy.data.scenes]
    animated = {owner.name: owner.animation_data for owner in owners if owner.animation_data}
    return now() | {
        "animation": {
            name: (
                animation.action and animation.action.name,
                animation.last_slot_identifier,
                [curve_text(curve) for curve in compat.curves(animation)],
                [track.name for track in animation.nla_tracks],
                [driver.data_path for driver in animation.drivers],
            )
            for name, animation in animated.items()
        },
    }


def curve_text(curve) -> tuple:
    keys = [(*key.co, *key.handle_left, *key.handle_right, key.interpolation) for key in curve.keyframe_points]
    return curve.data_path, curve.array_index, curve.group and curve.group.name, curve.extrapolation, keys


def deltas() -> dict[str, bytes]:
    return scenes.transforms(bpy.data.collections["build"].objects)


def scene_values() -> dict[str, float]:
    names = (stamps.WEAR, *stamps.MORE.values())
    return {name: value for name in names if (value := bpy.context.scene.get(name, 0.0))}


def test_every_frame_is_what_its_shot_alone_would_be():
    """Bit for bit. Outside check of the wear: the numbers given above."""
    build, scene = artists_wall(), bpy.context.scene
    alone = []
    for shot in SHOTS:
        usecases.apply(build, PRESET, shot.dials)
        alone.append(deltas())
    usecases.apply(build, PRESET, APPLIED)
    told = usecases.on_timeline(build, SHOTS)
    assert told.skipped == ()
    assert len(build.objects) - 3 <= told.bricks <= len(build.objects)
    wear = [
        {"playworn_wear": 1.5, "playworn_more_dust": 0.5},
        {"playworn_wear": 1.0},
        {"playworn_wear": 0.5, "playworn_more_dust": -1.0, "playworn_more_rub": 0.25},
        {"playworn_wear": 1.0},
    ]
    for frame, shot in SHOT_AT.items():
        scene.frame_set(frame)
        assert deltas() == alone[shot], frame
        assert scene_values() == wear[shot], frame


def test_all_of_it_comes_off_bit_for_bit_at_any_frame():
    build, scene = artists_wall(), bpy.context.scene
    clean = everything()
    usecases.apply(build, PRESET, APPLIED)
    applied = everything()
    for frame in (1, 35, 60, 90):
        scene.frame_set(1)
        usecases.on_timeline(build, SHOTS)
        scene.frame_set(frame)
        assert "animation" in differing(applied, everything())
        assert usecases.off_timeline(build) == len(SHOTS)
        assert differing(applied, everything()) == []
        scene.frame_set(frame + 1)  # nothing is left to move it
        assert differing(applied, everything()) == []
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(60)
    usecases.clear(build)
    assert differing(clean, everything()) == []
    assert not bpy.data.actions


def animate(thing, path: str, index: int, *values: float) -> None:
    """An artist's own keys on an object, one every 20 frames."""
    for number, value in enumerate(values):
        getattr(thing, path)[index] = value
        thing.keyframe_insert(path, index=index, frame=1 + 20 * number)


def push_down(thing) -> None:
    """The thing's action becomes a strip, as the NLA editor's button does it."""
    animation = thing.animation_data
    action, slot = animation.action, animation.action_slot
    strip = animation.nla_tracks.new().strips.new("strip", 1, action)
    strip.action_slot = slot
    animation.action = None


def busy_wall() -> bpy.types.Collection:
    """A wall with an artist's actions, strips and drivers on single bricks, and keys on the scene."""
    build, scene = artists_wall(), bpy.context.scene
    bricks = list(build.objects)
    animate(bricks[0], "location", 2, 0.0, 0.05, 0.1)
    animate(bricks[1], "rotation_euler", 2, 0.0, 0.1)
    animate(bricks[2], "location", 0, 0.0, 0.01, 0.02)
    push_down(bricks[2])
    animate(bricks[3], "location", 1, 0.0, 0.01)
    push_down(bricks[3])
    animate(bricks[3], "scale", 0, 1.0, 1.0)
    driver = bricks[4].driver_add("location", 2).driver
    driver.expression = "frame * 0.0001"
    bricks[5].animation_data_create()
    scene["mine"] = 0.0
    for frame, value in ((1, 0.0), (80, 8.0)):
        scene["mine"] = value
        scene.keyframe_insert('["mine"]', frame=frame)
    scene.frame_set(1)
    return build


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


@pytest.mark.parametrize("frame", [1, 60])
def test_a_build_with_keys_is_read_and_measured_as_the_frame_shows_it(frame):
    build, scene = artists_wall(), bpy.context.scene
    shot = SHOTS[SHOT_AT[50] if frame == 60 else 0]
    usecases.apply(build, PRESET, shot.dials)
    alone = usecases.check(build)
    usecases.apply(build, PRESET, APPLIED)
    inspected = usecases.inspect(build)
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(frame)
    measured = usecases.check(build)
    assert measured.skipped == ()
    assert (measured.moved, measured.max_shift_mm, measured.max_lift_mm, measured.max_play_mm) == (
        alone.moved,
        alone.max_shift_mm,
        alone.max_lift_mm,
        alone.max_play_mm,
    )
    assert usecases.inspect(build) == inspected


@pytest.mark.parametrize("job", ["apply", "dial"])
def test_what_is_applied_or_dialled_is_absolute_and_takes_the_keys_off(job):
    build, scene = artists_wall(), bpy.context.scene
    turned = usecases.Dials(seed=7, wear=0.7)
    usecases.apply(build, PRESET, turned)
    wanted = everything()
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(60)
    told = getattr(usecases, job)(build, PRESET, turned)
    assert differing(wanted, everything()) == []
    assert told.shots_off == len(SHOTS)
    assert "4 shots are off the timeline" in told.sentence
    assert usecases.dial(build, PRESET, turned).shots_off == 0


def scene_shots() -> None:
    """Two shots on the timeline of the open scene, the second twice as worn."""
    scene = bpy.context.scene
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    scene.collection.objects.link(camera)
    scene.camera = camera
    usecases.add_shot(scene, Shot("wide", "camera", 1, 49))
    usecases.add_shot(scene, Shot("macro", "camera", 50, 90))
    usecases.remove_shot(scene, "scene")
    usecases.dial_shots(scene, {("macro", "wear"): 2.0, ("macro", "looseness"): 0.5, ("macro", "dust"): 0.5})


@pytest.mark.parametrize("way", [[0.7], [0.0, 0.7], [1.8, 0.7]])
def test_the_dial_of_the_wear_takes_the_shots_along(way):
    build, scene = artists_wall(), bpy.context.scene
    scene_shots()
    usecases.apply(build, PRESET, replace(APPLIED, wear=0.7))
    usecases.shots_on_timeline(build, scene)
    wanted = everything()
    usecases.off_timeline(build)
    bare = everything()
    usecases.apply(build, PRESET, APPLIED)
    usecases.shots_on_timeline(build, scene)
    scene.frame_set(60)
    for wear in way:
        usecases.dial_wear(build, PRESET, replace(APPLIED, wear=wear))
        assert scene["playworn_wear"] == np.float32(min(2.0 * wear, 2.0))
    scene.frame_set(1)
    assert differing(wanted, everything()) == []
    assert usecases.off_timeline(build) == 2
    assert differing(bare, everything()) == []


def test_shots_of_a_script_keep_their_ratio_to_the_wear():
    build, scene = artists_wall(), bpy.context.scene
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    usecases.dial_wear(build, PRESET, replace(APPLIED, wear=0.6))
    for frame, wear in ((10, 0.9), (30, 0.6), (60, 0.3), (70, 0.6)):
        scene.frame_set(frame)
        assert scene["playworn_wear"] == pytest.approx(wear)
    assert usecases.dial(build, PRESET, APPLIED).shots_off == len(SHOTS)


def test_twice_on_the_timeline_is_once():
    build = artists_wall()
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    once = everything()
    bpy.context.scene.frame_set(60)
    usecases.on_timeline(build, SHOTS[::-1])
    bpy.context.scene.frame_set(1)
    assert differing(once, everything()) == []


def test_two_builds_on_one_timeline_come_off_one_by_one():
    first, second = scenes.wall(), scenes.wall(courses=3)
    for thing in second.objects:
        thing.location.y += 0.5
    usecases.apply(first, PRESET, APPLIED)
    usecases.apply(second, PRESET, APPLIED)
    before = everything()
    usecases.on_timeline(first, SHOTS)
    one = everything()
    usecases.on_timeline(second, SHOTS[:2])
    usecases.off_timeline(second)
    assert scene_values()["playworn_wear"] == 1.5  # the first is still on it
    usecases.on_timeline(first, SHOTS)
    assert differing(one, everything()) == []
    usecases.off_timeline(first)
    assert differing(before, everything()) == []


def test_every_scene_that_shows_the_build_has_its_wear_by_shot():
    build, other = scenes.wall(), bpy.data.scenes.new("other")
    other.collection.children.link(build)
    usecases.apply(build, PRESET, APPLIED)
    before = everything()
    usecases.on_timeline(build, SHOTS)
    other.frame_set(60)
    shown = other.evaluated_get(other.view_layers[0].depsgraph)
    assert (shown[stamps.WEAR], shown[stamps.MORE["dust"]]) == (0.5, -1.0)
    usecases.off_timeline(build)
    assert differing(before, everything()) == []


def test_only_what_differs_is_keyed():
    build = scenes.wall()
    usecases.apply(build, PRESET, APPLIED)
    same = [replace(SHOTS[1], first_frame=frame, name=str(frame)) for frame in (1, 20)]
    told = usecases.on_timeline(build, same)
    assert (told.bricks, told.curves, list(bpy.data.actions)) == (0, 0, [])
    told = usecases.on_timeline(build, [*same, replace(SHOTS[1], first_frame=40, layers={"tint": 0.5})])
    assert (told.bricks, told.curves) == (0, 1)
    usecases.on_timeline(build, SHOTS)
    curve = next(iter(compat.curves(bpy.context.scene.animation_data)))
    assert [key.interpolation for key in curve.keyframe_points] == ["CONSTANT"] * len(curve.keyframe_points)
    for thing in build.objects:
        for curve in compat.curves(thing.animation_data) if thing.animation_data else ():
            values = [key.co.y for key in curve.keyframe_points]
            assert curve.data_path.startswith("delta_")
            assert len(values) == 1 or all(one != other for one, other in pairwise(values))


def test_bad_shots_are_told_and_nothing_is_written():
    build = scenes.wall()
    with pytest.raises(BuildProblem, match="no preset is on"):
        usecases.on_timeline(build, SHOTS)
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    before = everything()
    with pytest.raises(ShotProblem, match='"wide" and "again" both start at frame 10'):
        usecases.on_timeline(build, [*SHOTS, usecases.OnFrame("again", 10, APPLIED)])
    with pytest.raises(ShotProblem, match="no shot"):
        usecases.on_timeline(build, [])
    with pytest.raises(ShotProblem, match="no layer"):
        usecases.OnFrame("odd", 10, APPLIED, {"rust": 1.0})
    with pytest.raises(DialProblem, match="dust at nan"):
        usecases.OnFrame("odd", 10, APPLIED, {"dust": float("nan")})
    with pytest.raises(ShotProblem, match="frame 2000000"):
        usecases.OnFrame("odd", 2_000_000, APPLIED)
    assert differing(before, everything()) == []


def test_a_failure_half_way_leaves_no_key_behind(monkeypatch):
    build = busy_wall()
    usecases.apply(build, PRESET, APPLIED)
    before, put, count = everything(), curves.put, iter(range(20))

    def fails_after_20(*given):
        if next(count, None) is None:
            raise RuntimeError
        put(*given)

    monkeypatch.setattr(curves, "put", fails_after_20)
    with pytest.raises(RuntimeError):
        usecases.on_timeline(build, SHOTS)
    assert differing(before, everything()) == []


ELSEWHERE = """
import os, sys
import bpy, numpy as np
bpy.ops.wm.open_mainfile(filepath=sys.argv[1])
scene = bpy.context.scene
for frame in (20, 60):
    scene.frame_set(frame)
    scene.render.filepath = f"{sys.argv[2]}/{frame}.exr"
    bpy.ops.render.render(write_still=True)
    parts = [np.array(getattr(o, n), np.float32) for o in sorted(bpy.data.objects, key=lambda o: o.name)
             for n in ("delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale")]
    np.save(f"{sys.argv[2]}/{frame}.npy", np.concatenate(parts))
sys.stdout.flush()
os._exit(0)
"""


def test_the_saved_file_plays_and_renders_the_same_without_the_extension(tmp_path):
    """Against renders of the same shots applied one by one, in this session."""
    build, scene = artists_wall(), bpy.context.scene
    look(0.3, (1.1, 0.0, 0.5), 1.0)
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN"))
    lamp.data.energy, lamp.rotation_euler = 3.0, (0.6, 0.3, 0.0)
    scene.collection.objects.link(lamp)
    wanted = {}
    for frame, shot in ((20, SHOTS[0]), (60, SHOTS[2])):
        usecases.apply(build, PRESET, shot.dials)
        stamps.set_layers(scene, shot.layers)
        scene.frame_set(frame)
        wanted[frame] = render(tmp_path, 96), everyones_deltas()
        stamps.set_layers(scene, {})
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(1)
    usecases.save(tmp_path / "shots.blend")
    run = subprocess.run(
        [sys.executable, "-c", ELSEWHERE, tmp_path / "shots.blend", tmp_path],
        capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    for frame, (picture, numbers) in wanted.items():
        assert np.array_equal(np.load(tmp_path / f"{frame}.npy"), numbers)
        assert np.array_equal(pixels(tmp_path / f"{frame}.exr"), picture)
    assert np.abs(wanted[20][0] - wanted[60][0]).max() > 0.05


def everyones_deltas() -> np.ndarray:
    names = ("delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale")
    things = sorted(bpy.data.objects, key=lambda thing: thing.name)
    return np.concatenate([np.array(getattr(thing, name), np.float32) for thing in things for name in names])


def pixels(path) -> np.ndarray:
    picture = bpy.data.images.load(str(path), check_existing=False)
    seen = np.empty(len(picture.pixels), np.float32)
    picture.pixels.foreach_get(seen)
    return seen.reshape(picture.size[1], picture.size[0], 4)


def test_reopened_it_is_read_dialled_and_cleared_as_before(tmp_path):
    build = artists_wall()
    usecases.save(tmp_path / "clean.blend")
    usecases.open_build(tmp_path / "clean.blend")
    clean = everything()
    build = bpy.data.collections["build"]
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    bpy.context.scene.frame_set(60)
    usecases.save(tmp_path / "shots.blend")
    build = usecases.open_build(tmp_path / "shots.blend")
    usecases.clear(build)
    bpy.context.scene.frame_set(1)
    assert differing(clean, everything()) == []
