"""Dials on the timeline: every frame is what its shot alone would be, and all of it comes off without a trace."""

from dataclasses import replace
from itertools import pairwise

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from addon.core.errors import BuildProblem, DialProblem, ShotProblem
from addon.scene import curves
from addon.scene.wear import stamps
from tests.blender import scenes
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import APPLIED, SHOT_AT, SHOTS, artists_wall, busy_wall, deltas, everything, scene_values
from tests.blender.test_usecases import differing

pytestmark = pytest.mark.usefixtures("extension")  # the record of the bricks' own deltas is a registered property


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


def test_bricks_that_went_into_another_build_with_their_keys_are_cleared_with_that():
    first, second = scenes.wall(), scenes.wall(courses=3)
    for thing in second.objects:
        thing.location.y += 0.5
    bpy.context.view_layer.update()
    stood = {thing: np.array(thing.matrix_world) for thing in [*first.objects, *second.objects]}
    usecases.apply(first, PRESET, APPLIED)
    usecases.on_timeline(first, SHOTS)
    for thing in list(first.objects)[:3]:
        first.objects.unlink(thing)
        second.objects.link(thing)
    usecases.apply(first, PRESET, APPLIED)
    usecases.apply(second, PRESET, APPLIED)
    usecases.clear(first)
    usecases.clear(second)
    bpy.context.scene.frame_set(55)
    assert not list(bpy.data.actions)
    for thing, place in stood.items():
        np.testing.assert_array_equal(np.array(thing.matrix_world), place)


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
