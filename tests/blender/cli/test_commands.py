"""The commands as a user types them: what they print and what they write."""

import json
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import bpy
import pytest

from addon import usecases
from addon.cli import opening
from addon.core.fit import attempts
from addon.scene.presets import library
from tests.blender import scenes
from tests.blender.cli.folders import DONE, USAGE, WRONG, answer, contents, folder_of_pictures
from tests.blender.exports.test_clear import gltf

CHECKOUT = Path(__file__).resolve().parents[3]
INSPECTED = {"bricks", "parts", "joints", "contacts", "duplicates", "mm_per_unit", "size_mm", "warnings"}
CHECKED = {
    "bricks", "moved", "preset", "seed", "looseness", "max_shift_mm", "max_lift_mm", "max_twist_deg", "max_tilt_deg",
    "max_play_mm", "max_interference_mm", "skipped",
}  # fmt: skip


def test_inspect_tells_what_the_build_is(run, build):
    told = answer(run("inspect", build, "--json"))
    assert told.keys() >= INSPECTED
    assert (told["bricks"], told["parts"], told["duplicates"]) == (17, 2, 0)
    assert told["mm_per_unit"] == pytest.approx(1000.0)
    assert told["size_mm"] == pytest.approx([32.0 * 4 + 16.0, 16.0, 4 * 9.6 + 3.2 + 1.7], abs=1e-2)
    assert told["warnings"] == []


def test_what_an_export_has_see_through_is_clear_plastic_unless_alpha_is_kept(run, somewhere):
    path = gltf(somewhere)
    for options, is_told in (((), True), (("--keep-alpha",), False)):
        told = answer(run("inspect", path, *options, "--json"))
        assert any(line.startswith("See-through by the export") for line in told["warnings"]) == is_told


def test_an_export_and_a_blend_of_one_build_are_the_same(run, build, export):
    blend, glb = (answer(run("inspect", path, "--json")) for path in (build, export))
    assert {**blend, "build": "", "materials": 0} == {**glb, "build": "", "materials": 0, "warnings": []}
    (warning,) = glb["warnings"]  # a .blend holds every value, an export leaves some out
    assert warning.startswith("Not stated by the export")


@pytest.mark.parametrize("command", ["inspect", "check"])
def test_words_for_people_hold_the_same_values(run, build, command):
    code, out, err = run(command, build)
    assert (code, err) == (DONE, "")
    assert "bricks" in out
    assert "17" in out.split()
    assert "_" not in out
    assert "{" not in out


def test_amounts_and_layers_are_given_by_name(run, build, somewhere):
    before = contents(somewhere)
    for wrong, wanted in (
        (("--amount", "nobody*=0"), "nobody"),
        (("--material-amount", "nothing=0"), "nothing"),
        (("--layer", "mud=1"), "mud"),
        (("--layer", "dust=3"), "from 0 to 2"),
    ):
        code, _, err = run("apply", build, "--preset", "toy-box", *wrong, "--out", "worn.blend")
        assert (code, wanted in err) == (WRONG, True)
    assert contents(somewhere) == before
    run("apply", build, "--preset", "toy-box", "--amount", "part.000?=0", "--amount", "part.9999=0.3",
        "--material-amount", "r*=0.5", "--layer", "dust=1.5", "--out", "worn.blend")  # fmt: skip
    told = answer(run("inspect", "worn.blend", "--json"))["by_hand"]
    assert told == "10 bricks new; 1 brick at an amount of its own; amounts on red"
    assert usecases.recall(usecases.open_build(Path("worn.blend"))).layers == {"dust": 1.5}
    run("apply", "worn.blend", "--preset", "fresh", "--out", "again.blend")
    assert answer(run("inspect", "again.blend", "--json"))["by_hand"] == told
    run("clear", "again.blend", "--out", "clean.blend")
    told = answer(run("inspect", "clean.blend", "--json"))["by_hand"]
    assert told == "10 bricks new; 1 brick at an amount of its own"


def test_places_are_given_by_the_names_of_empties(run, build):
    usecases.open_build(Path(build))
    for name in ("sill", "cover one", "cover two"):
        bpy.context.scene.collection.objects.link(bpy.data.objects.new(name, None))
    usecases.save(Path("with.blend"))
    for wrong, wanted, ending in (
        ("nobody=2", "nobody", WRONG),
        ("sill=11", "0 to 10", USAGE),
        ("sill", "sill", USAGE),
    ):
        code, _, err = run("apply", "with.blend", "--preset", "toy-box", "--place", wrong, "--out", "worn.blend")
        assert (code, wanted in err) == (ending, True)
    run("apply", "with.blend", "--preset", "toy-box", "--place", "sill=3", "--place", "cover*=0,linear", "--out",
        "worn.blend")  # fmt: skip
    told = answer(run("inspect", "worn.blend", "--json"))["by_hand"]
    assert told == "more worn near sill; less worn near cover one, cover two"


def test_apply_check_clear(run, build, somewhere):
    before = contents(somewhere)
    told = answer(
        run("apply", build, "--preset", "toy-box", "--seed", 5, "--looseness", 1.5, "--out", "worn.blend",
            "--report", "report.json", "--json")
    )  # fmt: skip
    assert told["moved"] > 0
    assert (told["bricks"], told["preset"], told["seed"]) == (17, "toy-box", 5)
    assert json.loads(Path("report.json").read_text(encoding="utf-8")) == told
    assert sorted(contents(somewhere)) == sorted([*before, "worn.blend", "report.json"])
    assert contents(somewhere)[str(build)] == before[str(build)]

    checked = answer(run("check", "worn.blend", "--json"))
    assert checked.keys() >= CHECKED
    assert (checked["moved"], checked["preset"]) == (told["moved"], "toy-box")
    assert (checked["seed"], checked["looseness"]) == (5, 1.5)
    # What is asked for and what is measured on the saved bricks are two computations: float32 lies between them.
    assert checked["max_shift_mm"] == pytest.approx(told["largest_shift_mm"], abs=1e-3)
    assert checked["max_twist_deg"] == pytest.approx(told["largest_twist_deg"], abs=1e-3)
    assert checked["max_tilt_deg"] == pytest.approx(told["largest_tilt_deg"], abs=1e-3)

    assert answer(run("clear", "worn.blend", "--out", "clean.blend", "--json"))["bricks"] == 17
    code, _, err = run("clear", "clean.blend", "--out", "again.blend")
    assert code == WRONG
    assert "nothing to clear" in err
    assert answer(run("check", "clean.blend", "--json"))["moved"] == 0
    assert answer(run("inspect", "clean.blend", "--json")) == answer(run("inspect", build, "--json"))


def test_single_values_of_a_preset_are_changed(run, build):
    words = ("apply", build, "--preset", "toy-box", "--set", "fit.shift_mm=0.01", "--set", "wear.rounding_mm=0.4")
    told = answer(run(*words, "--out", "worn.blend", "--json"))
    assert told["preset"] == "toy-box"
    kept = usecases.recall(usecases.open_build(Path("worn.blend"))).preset
    shipped = library.find_preset("toy-box")
    assert (kept.fit.shift_mm, kept.wear.rounding_mm) == (0.01, 0.4)
    assert (kept.fit.lift_mm, kept.wear.scratches) == (shipped.fit.lift_mm, shipped.wear.scratches)
    assert 0.0 <= told["tight"] <= 1.0


def test_limits_that_leave_no_way_out_are_warned_of(run, build, monkeypatch):
    monkeypatch.setattr(attempts, "SWEEPS", 1)  # an answer that is far from done
    monkeypatch.setattr(attempts, "ATTEMPTS", attempts.ATTEMPTS[-1:])  # and not mended but by wanting less
    code, out, err = run("apply", build, "--preset", "toy-box", "--looseness", "2", "--out", "worn.blend", "--json")
    assert code == DONE
    told = json.loads(out)
    assert told["calmed"] > 0
    assert told["least_share"] < 1.0
    assert f"warning: the limits cannot hold together: the most that {told['calmed']} brick" in err


def test_a_budget_that_runs_out_is_warned_of_and_kept_with_the_build(run, build):
    words = ("apply", build, "--preset", "toy-box", "--looseness", "2", "--out", "worn.blend", "--json")
    code, out, err = run(*words, "--budget", "1")
    told = json.loads(out)
    assert (code, told["spent"], told["cut"]) == (DONE, True, 0)
    assert told["held_back"] > 0
    assert "warning: the budget ran out before the fit was as close as it gets" in err
    assert usecases.recall(usecases.open_build(Path("worn.blend"))).budget == 1.0
    assert answer(run("check", "worn.blend", "--json"))["max_interference_mm"] <= 1e-3  # float32 in metres
    assert answer(run(*words))["spent"] is False
    code, _, err = run(*words, "--budget", "-1")
    assert (code, len(err.splitlines())) == (WRONG, 1)
    assert "give a number from 0" in err


def test_the_build_is_drawn_on_request(run, build, somewhere):
    told = answer(run("inspect", build, "--picture", "wall.svg", "--json"))
    assert told["picture"] == "wall.svg"
    root = ElementTree.parse(somewhere / "wall.svg").getroot()
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    code, _, err = run("inspect", build, "--picture", "nowhere/wall.svg")
    assert (code, len(err.splitlines())) == (WRONG, 1)
    assert "no folder" in err


def test_what_sides_have_is_told_and_drawn_on_request(run, build, somewhere):
    code, _, err = run("inspect", build, "--show", "sky", "--picture", "sky.svg")
    assert (code, len(err.splitlines())) == (WRONG, 1)
    assert "there is no sky to see: no preset is on the build" in err
    assert not (somewhere / "sky.svg").exists()
    assert answer(run("inspect", build, "--show", "motion", "--json"))["shown"]["most"] == 0.0
    run("apply", build, "--preset", "attic", "--out", "worn.blend")
    for what, unit in (("sky", ""), ("dust", ""), ("fade", "ΔE"), ("motion", "mm")):
        told = answer(run("inspect", "worn.blend", "--show", what, "--picture", f"{what}.svg", "--json"))["shown"]
        assert (told["what"], told["unit"]) == (what.title(), unit)
        assert 0.0 <= told["least"] <= told["median"] <= told["most"]
        assert told["most"] > 0.0
        text = (somewhere / f"{what}.svg").read_text("utf-8")
        assert ElementTree.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
        assert what.title() in text
    assert run("inspect", "worn.blend", "--show", "colour")[0] == USAGE


def test_bricks_that_cut_into_each_other_in_the_export_are_counted_and_named(run, somewhere):
    build = scenes.wall()
    other = next(thing for thing in build.objects if thing.name == "part.0001")
    other.location.x -= 0.001
    usecases.save(somewhere / "cut.blend")
    told = answer(run("inspect", "cut.blend", "--json"))
    assert told["cuts"] == 1
    assert any("part.0000 and part.0001" in warning for warning in told["warnings"])


def test_a_large_file_is_told_before_it_is_read(run, build, monkeypatch):
    assert run("inspect", build)[2] == ""
    monkeypatch.setattr(opening, "_LARGE", 100)
    for command in (("inspect", build), ("check", build), ("apply", build, "--preset", "fresh", "--out", "a.blend")):
        code, out, err = run(*command)
        assert (code, err.splitlines()[0]) == (DONE, f"  0 %  opening {build}")
        assert "opening" not in out


def test_out_may_be_the_file_itself(run, build, somewhere):
    assert run("apply", build, "--preset", "fresh", "--out", build)[0] == DONE
    assert sorted(contents(somewhere)) == [str(build)]
    assert answer(run("check", build, "--json"))["preset"] == "fresh"
    assert run("clear", build, "--out", build)[0] == DONE
    assert sorted(contents(somewhere)) == [str(build)]
    assert answer(run("check", build, "--json"))["moved"] == 0


def test_an_export_goes_in_and_progress_alone_goes_to_standard_error(run, export):
    code, out, err = run("apply", export, "--preset", "well-loved", "--out", "worn.blend", "--json")
    assert answer((code, out, err))["moved"] > 0
    assert err.splitlines()
    assert all(line[:3].strip().isdigit() and line[3:6] == " % " for line in err.splitlines())


def test_what_is_left_alone_is_named_with_the_reason(run, somewhere):
    wall = scenes.wall()
    wall.objects["part.0003"].rotation_mode = "AXIS_ANGLE"
    usecases.save(somewhere / "odd.blend")
    told = answer(run("apply", "odd.blend", "--preset", "fresh", "--out", "worn.blend", "--json"))
    assert [each["object"] for each in told["skipped"]] == ["part.0003"]
    checked = answer(run("check", "worn.blend", "--json"))
    assert checked["skipped"] == told["skipped"]
    assert checked["moved"] == told["moved"] > 0
    _, out, _ = run("check", "worn.blend")
    assert f"part.0003: {told['skipped'][0]['reason']}" in out


def test_help_names_every_command(run):
    code, out, _ = run("--help")
    assert code == DONE
    for command in ("demo", "inspect", "apply", "clear", "check", "job", "passes", "render", "textures", "presets"):
        assert command in out


def test_a_build_of_a_fresh_process(build, somewhere):
    """The real thing once: a Python of its own, which also opens and closes Blender."""
    pictures = folder_of_pictures(somewhere, "scratches.png", "smudges.png", "dust.png")  # to draw them takes seconds
    done = subprocess.run(
        [sys.executable, "-m", "addon", "apply", somewhere / build, "--preset", "fresh", "--textures", pictures,
         "--out", somewhere / "worn.blend", "--json"],
        cwd=CHECKOUT, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["bricks"] == 17
    wrong = subprocess.run(
        [sys.executable, "-m", "addon", "inspect", somewhere / "nowhere.glb"],
        cwd=CHECKOUT, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert (wrong.returncode, wrong.stdout, len(wrong.stderr.splitlines())) == (1, "", 1)
