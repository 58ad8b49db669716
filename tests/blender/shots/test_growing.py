"""Wear that grows within a shot: a curve on the timeline that an artist can edit, and what the file keeps of it."""

import json
from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import cli, compat, usecases
from addon.core.errors import DialProblem, ShotProblem
from addon.core.shots.shot import Shot, named
from addon.scene.shots import keys
from addon.scene.shots import shots as kept
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import APPLIED, artists_wall, everything, scene_shots
from tests.blender.test_usecases import differing

pytestmark = pytest.mark.usefixtures("extension")
WEAR = "playworn_wear"


@pytest.fixture
def wall() -> bpy.types.Collection:
    """A worn wall with two shots, of frames 1 to 49 and 50 to 90, the first of which grows from 0.5 to 1.5."""
    build = artists_wall()
    scene_shots()
    usecases.apply(build, PRESET, replace(APPLIED, wear=0.8))
    scene = bpy.context.scene
    usecases.dial_shots(scene, {("wide", "wear"): 0.5})
    usecases.grow_shot(scene, "wide", 1.5)
    return build


def curve() -> bpy.types.FCurve:
    """The wear's curve on the scene."""
    curves = compat.curves(bpy.context.scene.animation_data)
    return next(each for each in curves if each.data_path == f'["{WEAR}"]')


def seen(frames, subframe: float = 0.0) -> list[float]:
    scene, found = bpy.context.scene, []
    for frame in frames:
        scene.frame_set(frame, subframe=subframe)
        found.append(scene[WEAR])
    return found


def line(frames) -> list[float]:
    """The wide shot's wear, which the macro ends at frame 50."""
    return [0.4 + 0.8 * min(max((frame - 1) / 48, 0.0), 1.0) if frame < 49.5 else 1.6 for frame in frames]


def test_on_every_frame_the_wear_is_that_of_the_frame_whichever_was_shown_before(wall):
    before, scene = everything(), bpy.context.scene
    scene.frame_set(20)
    usecases.shots_on_timeline(wall, scene)
    assert scene[WEAR] == pytest.approx(line([20])[0], rel=1e-6)
    frames = [-5, 0, 1, 2, 13, 25, 48, 49, 50, 51, 90, 300]
    assert seen(frames) == pytest.approx(line(frames), rel=1e-6)
    order = [25, 1, 90, 48, 13]
    assert seen(order) == pytest.approx(line(order), rel=1e-6)
    assert seen([10, 48], 0.25) == pytest.approx(line([10.25, 48.25]), rel=1e-6)
    assert [(key.co.x, key.interpolation) for key in curve().keyframe_points] == [
        (0.5, "CONSTANT"), (1.0, "LINEAR"), (49.0, "CONSTANT"), (49.5, "CONSTANT")
    ]  # fmt: skip
    scene.frame_set(1)
    assert usecases.off_timeline(wall) == 2
    assert differing(before, everything()) == []


def test_a_shot_that_is_cut_off_grows_until_then(wall):
    scene = bpy.context.scene
    usecases.add_shot(scene, Shot("insert", "camera", 20, 30))
    usecases.grow_shot(scene, "insert", 0.0)
    usecases.shots_on_timeline(wall, scene)
    frames = [1, 10, 19]
    assert seen(frames) == pytest.approx(line(frames), rel=1e-6)
    assert seen([20, 25, 30, 49]) == pytest.approx([0.8, 0.4, 0.0, 0.0], abs=1e-6)
    assert seen([50]) == pytest.approx([1.6])


@pytest.mark.parametrize("way", [[0.4], [0.0, 0.4], [2.0, 0.4]])
def test_the_dial_of_the_wear_takes_the_growth_along(wall, way):
    scene = bpy.context.scene
    usecases.shots_on_timeline(wall, scene)
    for wear in way:
        usecases.dial_wear(wall, PRESET, replace(APPLIED, wear=wear))
    frames = [1, 13, 49, 50]
    assert seen(frames) == pytest.approx([0.5 * each for each in line(frames)], rel=1e-6)


def test_a_script_s_growth(wall):
    grows = usecases.Grows(40, 0.2)
    usecases.on_timeline(wall, [usecases.OnFrame("one", 10, usecases.Dials(seed=7, wear=1.0), grows=grows)])
    assert seen([1, 10, 25, 40, 60]) == pytest.approx([1.0, 1.0, 0.6, 0.2, 0.2], rel=1e-6)
    usecases.dial_wear(wall, PRESET, replace(APPLIED, wear=0.4))
    assert seen([10, 25, 40]) == pytest.approx([0.5, 0.3, 0.1], rel=1e-6)
    for wrong, error in ((usecases.Grows(40, 2.5), DialProblem), (usecases.Grows(9, 1.0), ShotProblem)):
        with pytest.raises(error):
            usecases.OnFrame("one", 10, APPLIED, grows=wrong)


def test_what_an_artist_made_of_the_curve_is_there_again_where_a_job_fails(wall, monkeypatch):
    scene = bpy.context.scene
    usecases.shots_on_timeline(wall, scene)
    start = curve().keyframe_points[1]
    start.interpolation, start.handle_right_type, start.handle_right = "BEZIER", "FREE", (30.0, 0.4)
    curve().update()
    eased = seen([25])[0]
    assert eased < 0.95 * line([25])[0]
    scene.frame_set(1)
    before = everything()

    def fails(*_):
        raise ShotProblem("the keys cannot be written")

    monkeypatch.setattr(keys, "write", fails)
    with pytest.raises(ShotProblem):
        usecases.shots_on_timeline(wall, scene)
    assert differing(before, everything()) == []
    assert seen([25]) == [eased]


def test_what_a_growing_shot_reads_as_is_told_frame_by_frame(wall):
    """A radius grows with the wear up to the mould's own."""
    scene = bpy.context.scene
    scene.camera.location, scene.camera.rotation_euler = (0.06, -0.5, 0.02), (0.5 * np.pi, 0.0, 0.0)
    bpy.context.view_layer.update()
    wide = named(usecases.list_shots(scene), "wide")
    still = replace(wide, dials=replace(wide.dials, wear_last=None))
    grown, plain = usecases.reads_as(wall, scene, [wide, still])
    assert ([each.frame for each in grown.frames], len(plain.frames)) == ([1, 25, 49], 1)
    first, middle, last = (each.rounding_px for each in grown.frames)
    assert first == plain.frames[0].rounding_px > 0.0
    assert (middle / first, last / first) == pytest.approx((2.0, 1.0 / 0.4), rel=1e-6)


def test_the_file_keeps_it_and_an_earlier_version_reads_what_has_none(wall):
    scene = bpy.context.scene
    assert json.loads(scene[kept.SHOTS])["format"] == 3
    usecases.copy_dials(scene, "wide", ["macro"])
    assert named(usecases.list_shots(scene), "macro").dials.wear_last == 1.5
    usecases.set_shot(scene, "wide", "B")
    for name in ("wide", "macro"):
        usecases.grow_shot(scene, name, None)
    assert json.loads(scene[kept.SHOTS])["format"] == 3, "the other setting grows"
    usecases.set_shot(scene, "wide", "A")
    assert named(usecases.list_shots(scene), "wide").dials.wear_last == 1.5
    usecases.grow_shot(scene, "wide", None)
    told = json.loads(scene[kept.SHOTS])
    assert (told["format"], [set(shot["dials"]) & {"wear_last"} for shot in told["shots"]]) == (2, [set(), set()])
    usecases.lock_shot(scene, "wide")
    with pytest.raises(ShotProblem, match="locked"):
        usecases.grow_shot(scene, "wide", 0.5)


def test_a_file_for_a_growing_shot_grows_the_same(wall):
    scene = bpy.context.scene
    frames = [1, 13, 49]
    usecases.apply_for_shot(wall, scene, "wide", PRESET, replace(APPLIED, wear=0.8))
    assert [shot["name"] for shot in keys.shots_of(wall)] == ["wide"]
    assert seen(frames) == pytest.approx(line(frames), rel=1e-6)
    usecases.shots_on_timeline(wall, scene)
    assert seen(frames) == pytest.approx(line(frames), rel=1e-6)


def test_the_command(wall, tmp_path, monkeypatch, capfd):
    monkeypatch.chdir(tmp_path)
    usecases.grow_shot(bpy.context.scene, "wide", None)
    usecases.save(tmp_path / "wall.blend")

    def typed(*words) -> dict:
        capfd.readouterr()
        assert cli.main(["shots", *words, "--json"]) == 0
        return json.loads(capfd.readouterr().out)

    grown = ("--grow", "macro=0.25", "--timeline", "on", "--out", "grown.blend")
    told = typed("wall.blend", "--unlock", "macro", *grown)
    assert [shot["dials"]["wear_last"] for shot in told["shots"]] == [None, 0.25]
    usecases.open_build(tmp_path / "grown.blend")
    assert seen([50, 70, 90]) == pytest.approx([1.6, 0.9, 0.2], rel=1e-6)
    assert cli.main(["shots", "grown.blend"]) == 0
    assert "wear 2 to 0.25" in capfd.readouterr().out
    told = typed("grown.blend", "--grow", "macro=", "--out", "still.blend")
    assert [shot["dials"]["wear_last"] for shot in told["shots"]] == [None, None]
    for wrong in ("macro", "macro=much", "macro=0.2.1"):
        assert cli.main(["shots", "grown.blend", "--grow", wrong]) == 2
    assert cli.main(["shots", "grown.blend", "--grow", "macro=3", "--out", "no.blend"]) == 1
    assert not (tmp_path / "no.blend").exists()


def test_other_hands_in_the_record_are_no_growth(wall):
    scene = bpy.context.scene
    usecases.shots_on_timeline(wall, scene)
    told = keys.shots_of(wall)
    wall[keys.MARK] = json.dumps([{**told[0], keys.GROWS: "much"}, told[1]])
    assert keys.shots_of(wall) == []
    assert np.isfinite(seen([25])).all()
