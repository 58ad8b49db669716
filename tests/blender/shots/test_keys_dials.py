"""A build with keys is read as its frame shows it; what is dialled later takes them along or off."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import usecases
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import APPLIED, SHOT_AT, SHOTS, artists_wall, everything, scene_shots
from tests.blender.test_usecases import differing

pytestmark = pytest.mark.usefixtures("extension")  # the record of the bricks' own deltas is a registered property


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


@pytest.mark.shared_out
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
