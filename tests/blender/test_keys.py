"""Dials on the timeline: every frame is what its shot alone would be, and all of it comes off without a trace."""

import bpy
import pytest

from addon import compat, usecases
from addon.scene import stamps
from tests.blender import scenes
from tests.blender.scenes import PRESET
from tests.blender.test_usecases import differing, now

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
