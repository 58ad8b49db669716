"""Shots signed off: a lock that nothing turns a dial past, an artist's note, and dials copied between shots."""

import json
from dataclasses import replace

import bpy
import pytest

from addon import cli, usecases
from addon.core.errors import ShotProblem
from addon.core.shots.shot import INHERITED, Shot, ShotDials, named
from addon.scene.shots import shots as kept
from tests.blender import scenes
from tests.blender.build.versions import BUILD, CHANGED, export
from tests.blender.shots.test_shots import camera, marker

NOTE = "Fuge an der Tür – ما أوسعها ⚓"  # letters of three scripts, which a file and a pipe have to hold
LOOSE = ShotDials(looseness=0.5, dust=0.25, seed=4)


@pytest.fixture
def scene(extension) -> bpy.types.Scene:
    """A wall with a preset on it before three cameras; the first shot has dials, a lock and a note."""
    usecases.apply(scenes.wall(), scenes.PRESET, usecases.Dials(seed=3))
    scene = bpy.context.scene
    scene.frame_end = 100
    for name, frame, far in (("wide", 1, -1.2), ("medium", 40, -0.5), ("close", 70, -0.2)):
        marker(name, frame, camera(f"{name} camera", (0.06, far, 0.02)))
    usecases.dial_shots(scene, {("wide", "looseness"): 0.5, ("wide", "dust"): 0.25, ("wide", "seed"): 4})
    usecases.note_shot(scene, "wide", NOTE)
    usecases.lock_shot(scene, "wide")
    return scene


def shot(name: str) -> Shot:
    return named(usecases.list_shots(bpy.context.scene), name)


def test_nothing_that_would_change_a_locked_shot_does(scene):
    build, before = bpy.data.collections["build"], scene[kept.SHOTS]
    for change in (
        lambda: usecases.dial_shots(scene, {("close", "dust"): 0.0, ("wide", "dust"): 0.0}),
        lambda: usecases.copy_dials(scene, "close", ["medium", "wide"]),
        lambda: usecases.dial_to(build, scene, shot("wide"), 0.5),
        lambda: usecases.round_to(build, scene, shot("wide"), 0.5),
        lambda: usecases.remove_shot(scene, "wide"),
        lambda: usecases.set_shot(scene, "wide", "B"),
        lambda: usecases.forget_shots(scene),
    ):
        with pytest.raises(ShotProblem, match=r'^the shot "wide" is locked: unlock it first$'):
            change()
        assert scene[kept.SHOTS] == before
    usecases.lock_shot(scene, "wide", False)
    usecases.dial_shots(scene, {("wide", "dust"): 0.0})
    assert shot("wide").dials == replace(LOOSE, dust=0.0)
    assert usecases.forget_shots(scene) == 3


def test_dials_are_copied_whole_from_a_locked_shot_too(scene):
    usecases.dial_shots(scene, {("close", "fade"): 2.0})
    usecases.copy_dials(scene, "wide", ["close"])
    assert [shot(name).dials for name in ("wide", "medium", "close")] == [LOOSE, INHERITED, LOOSE]
    for name, to in (("wide", []), ("wide", ["close", "wide"]), ("none", ["close"]), ("wide", ["none"])):
        with pytest.raises(ShotProblem):
            usecases.copy_dials(scene, name, to)


def test_a_shot_has_two_settings_and_each_keeps_its_dials(scene):
    usecases.dial_shots(scene, {("close", "dust"): 0.5})
    usecases.set_shot(scene, "close", "B")
    assert shot("close").dials == ShotDials(dust=0.5)  # B begins as A stands
    usecases.dial_shots(scene, {("close", "dust"): 1.5, ("close", "looseness"): 0.25})
    for setting, dials in (("A", ShotDials(dust=0.5)), ("B", ShotDials(dust=1.5, looseness=0.25))) * 2:
        usecases.set_shot(scene, "close", setting)
        assert (shot("close").dials, shot("close").setting) == (dials, setting)
        usecases.set_shot(scene, "close", setting)
        assert shot("close").dials == dials
    usecases.find_shots(scene)
    assert (shot("close").setting, shot("close").aside) == ("B", ShotDials(dust=0.5))
    usecases.copy_dials(scene, "close", ["medium"])
    assert (shot("medium").dials, shot("medium").setting) == (ShotDials(dust=1.5, looseness=0.25), "A")
    with pytest.raises(ShotProblem, match="give A or B"):
        usecases.set_shot(scene, "close", "C")


def test_a_file_made_for_a_shot_has_no_other_setting(scene):
    usecases.set_shot(scene, "close", "B")
    usecases.dial_shots(scene, {("close", "looseness"): 0.5})
    usecases.apply_for_shot(bpy.data.collections["build"], scene, "close", scenes.PRESET, usecases.Dials(seed=3))
    assert usecases.list_shots(scene) == (Shot("close", "close camera", 70, 100),)


def test_a_locked_shot_follows_the_cut_and_stays_without_its_marker(scene):
    markers = {each.name: each for each in scene.timeline_markers}
    markers["medium"].frame = 30
    usecases.find_shots(scene)
    assert shot("wide") == Shot("wide", "wide camera", 1, 29, dials=LOOSE, locked=True, note=NOTE)
    scene.timeline_markers.remove(markers["wide"])
    scene.timeline_markers.remove(markers["close"])
    usecases.find_shots(scene)
    assert [each.name for each in usecases.list_shots(scene)] == ["wide", "medium"]
    assert shot("wide") == Shot("wide", "wide camera", 1, 29, dials=LOOSE, locked=True, note=NOTE)


def test_lock_and_note_stay_through_a_file_read_without_the_extension(scene, extension, tmp_path):
    usecases.save(tmp_path / "signed.blend")
    extension.unregister()
    try:
        bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "signed.blend"))
        found = named(kept.recall(bpy.context.scene), "wide")
    finally:
        extension.register()
    assert (found.dials, found.locked, found.note) == (LOOSE, True, NOTE)


def test_lock_and_note_stay_through_clear_apply_and_the_timeline(scene):
    build, before = bpy.data.collections["build"], scene[kept.SHOTS]
    usecases.shots_on_timeline(build, scene)
    usecases.off_timeline(build)
    usecases.clear(build)
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=5))
    assert scene[kept.SHOTS] == before


def test_lock_and_note_stay_through_an_update(scene, tmp_path):
    before = scene[kept.SHOTS]
    built = usecases.bring_in(export(tmp_path, "first", BUILD))
    usecases.apply(built, scenes.PRESET, usecases.Dials(seed=5))
    usecases.update(built, export(tmp_path, "next", CHANGED))
    assert scene[kept.SHOTS] == before


def test_a_file_made_for_a_shot_keeps_its_lock_and_note(scene):
    usecases.apply_for_shot(bpy.data.collections["build"], scene, "wide", scenes.PRESET, usecases.Dials(seed=3))
    assert usecases.list_shots(scene) == (Shot("wide", "wide camera", 1, 39, locked=True, note=NOTE),)


def test_shots_without_lock_or_note_are_read_by_an_earlier_version(scene):
    """It knows the first format, of these fields alone."""
    assert json.loads(scene[kept.SHOTS])["format"] == 2
    usecases.lock_shot(scene, "wide", False)
    usecases.note_shot(scene, "wide", "")
    told = json.loads(scene[kept.SHOTS])
    assert told["format"] == 1
    assert {key for row in told["shots"] for key in row} == {"name", "camera", "first", "last", "by_hand", "dials"}


@pytest.mark.parametrize(
    "field",
    [{"locked": 1}, {"locked": None}, {"note": 5}, {"note": "a\x00"}, {"note": "x" * 501}, {"setting": "C"}],
)
def test_what_another_hand_wrote_there_is_refused(scene, field):
    told = json.loads(scene[kept.SHOTS])
    told["shots"][0] |= field
    scene[kept.SHOTS] = json.dumps(told)
    with pytest.raises(ShotProblem, match=f"the {next(iter(field)).removesuffix('ed')} of the shot"):
        usecases.list_shots(scene)


@pytest.mark.parametrize("aside", [5, {"dusty": 1.0}, {"dust": 3.0}])
def test_another_setting_that_no_dial_has_is_refused(scene, aside):
    told = json.loads(scene[kept.SHOTS])
    told["shots"][0]["aside"] = aside
    scene[kept.SHOTS] = json.dumps(told)
    with pytest.raises(ShotProblem):
        usecases.list_shots(scene)


@pytest.fixture
def typed(scene, tmp_path, capfd, monkeypatch):
    """Commands typed beside the wall in a file: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)
    usecases.save(tmp_path / "wall.blend")

    def run(*words) -> tuple[int, str, str]:
        capfd.readouterr()
        code = cli.main(["shots", "wall.blend", *map(str, words)])
        return code, *capfd.readouterr()

    return run


def test_the_listing_tells_locks_and_notes(typed):
    told = json.loads(typed("--json")[1])["shots"]
    assert [(each["name"], each["locked"], each["note"]) for each in told] == [
        ("wide", True, NOTE),
        ("medium", False, ""),
        ("close", False, ""),
    ]
    lines = typed()[1].splitlines()
    head = next(number for number, line in enumerate(lines) if line.split()[:2] == ["name", "camera"])
    at = lines[head].index("locked")
    assert [line[at:].split()[0] for line in lines[head + 1 : head + 4]] == ["yes", "no", "no"]
    assert lines[head].endswith("note")
    assert lines[head + 1].endswith(NOTE)


def test_lock_note_and_copy_by_command(typed, tmp_path):
    words = [
        "--copy",
        "wide=close, medium",
        "--lock",
        "close",
        "--note",
        "close=ask again = later",
        "--out",
        "to.blend",
    ]
    code, out, _ = typed(*words, "--json")
    assert code == 0
    now = {each["name"]: each for each in json.loads(out)["shots"]}
    assert (now["close"]["locked"], now["close"]["note"]) == (True, "ask again = later")
    usecases.open_build(tmp_path / "to.blend")
    assert [shot(name).dials for name in ("wide", "medium", "close")] == [LOOSE] * 3
    assert [shot(name).locked for name in ("wide", "medium", "close")] == [True, False, True]


def test_settings_by_command(typed):
    assert typed("--setting", "close=B", "--set", "close.dust=0.5", "--out", "wall.blend")[0] == 0
    code, out, _ = typed("--setting", "close=A", "--json")
    assert [(each["setting"], each["dials"]["dust"]) for each in json.loads(out)["shots"]][2] == ("A", 1.0)
    assert typed("--setting", "close=C")[0] == 2
    assert code == 0


def test_unlocked_turned_and_locked_again_in_one_command(typed):
    words = ["--unlock", "wide", "--set", "wide.dust=1.5", "--lock", "wide", "--note", "wide=", "--out", "to.blend"]
    assert typed(*words)[0] == 0
    assert shot("wide") == Shot("wide", "wide camera", 1, 39, dials=replace(LOOSE, dust=1.5), locked=True)


def test_for_all_shots_locked_ones_stay_and_are_told(typed):
    code, out, _ = typed("--target", "0.1", "--copy", "medium", "--out", "to.blend", "--json")
    told = json.loads(out)
    assert told["skipped"] == [{"object": "wide", "reason": "is locked, so its dials stay"}]
    assert [each["shot"] for each in told["targets"]] == ["medium", "close"]
    assert (code, shot("wide").dials) == (0, LOOSE)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--set", "wide.dust=1"], '"wide" is locked: unlock it first'),
        (["--shot", "wide", "--target", "0.5"], '"wide" is locked: unlock it first'),
        (["--shot", "wide", "--highlight", "0.5"], '"wide" is locked: unlock it first'),
        (["--copy", "close=wide"], '"wide" is locked: unlock it first'),
        (["--setting", "wide=B"], '"wide" is locked: unlock it first'),
        (["--forget"], '"wide" is locked: unlock it first'),
        (["--lock", "none"], 'there is no shot called "none"'),
        (["--note", "wide=" + "x" * 501], "cannot be kept"),
    ],
)
def test_what_would_change_a_locked_shot_is_one_sentence_and_no_file(typed, tmp_path, words, said):
    code, out, err = typed(*words, "--out", "no.blend")
    assert (code, out, err.count("\n"), said in err) == (1, "", 1, True)
    assert not (tmp_path / "no.blend").exists()


@pytest.mark.parametrize("words", [["--copy", "=close"], ["--copy", "wide="], ["--note", "wide"]])
def test_a_change_that_is_not_written_as_one_is_a_wrong_use(typed, words):
    assert typed(*words)[0] == 2


@pytest.mark.parametrize("words", [["--lock", "wide"], ["--note", "wide=x"]])
def test_a_lock_or_note_without_a_place_is_refused(typed, words):
    code, _, err = typed(*words)
    assert (code, "give --out OUT.blend" in err) == (1, True)
