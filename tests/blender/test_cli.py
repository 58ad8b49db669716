"""The commands as a user types them: what they print, what they write, and how they refuse."""

import json
import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import bmesh
import bpy
import numpy as np
import pytest

from addon import atomic, cli, usecases
from addon.cli import opening
from addon.core.fit import attempts
from addon.core.pictures import png
from addon.scene.presets import library
from tests.blender import scenes

CHECKOUT = Path(__file__).resolve().parents[2]
INSPECTED = {"bricks", "parts", "joints", "contacts", "duplicates", "mm_per_unit", "size_mm", "warnings"}
CHECKED = {
    "bricks", "moved", "preset", "seed", "looseness", "max_shift_mm", "max_lift_mm", "max_twist_deg", "max_tilt_deg",
    "max_play_mm", "max_interference_mm", "skipped",
}  # fmt: skip
MEASURED = {
    "file", "width_px", "height_px", "bits", "level_1", "level_50", "level_99", "seam", "mark_px", "mark_mm",
    "direction_deg", "alignment", "gain", "kind", "looks_like", "warnings",
}  # fmt: skip
DONE, WRONG, USAGE = 0, 1, 2


@pytest.fixture(autouse=True)
def somewhere(extension, tmp_path, monkeypatch) -> Path:
    """A folder of the user's own, with the user's own presets in it too."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(folder / "presets"))
    return folder


@pytest.fixture
def build(somewhere) -> Path:
    """A wall of 17 bricks in a .blend."""
    scenes.wall()
    usecases.save(somewhere / "wall.blend")
    return Path("wall.blend")


@pytest.fixture
def export(somewhere) -> Path:
    """The same wall as a glTF file, written by Blender."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    scenes.wall()
    bpy.ops.export_scene.gltf(filepath=str(somewhere / "wall.glb"))
    return Path("wall.glb")


@pytest.fixture
def run(capfd):
    """Runs one command: exit code, standard output, standard error."""

    def typed(*words) -> tuple[int, str, str]:
        capfd.readouterr()
        code = cli.main([str(word) for word in words])
        told = capfd.readouterr()
        return code, told.out, told.err

    return typed


def answer(told: tuple[int, str, str]) -> dict:
    """The one JSON object on standard output."""
    code, out, err = told
    assert code == DONE, err
    assert out.count("\n") == 1
    return json.loads(out)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"" for path in folder.rglob("*")}


def test_inspect_tells_what_the_build_is(run, build):
    told = answer(run("inspect", build, "--json"))
    assert told.keys() >= INSPECTED
    assert (told["bricks"], told["parts"], told["duplicates"]) == (17, 2, 0)
    assert told["mm_per_unit"] == pytest.approx(1000.0)
    assert told["size_mm"] == pytest.approx([32.0 * 4 + 16.0, 16.0, 4 * 9.6 + 3.2 + 1.7], abs=1e-2)
    assert told["warnings"] == []


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


@pytest.fixture
def mixed(somewhere) -> Path:
    """The wall, and a ball on the ground beside it."""
    wall = scenes.wall()
    mesh = bpy.data.meshes.new("ball")
    form = bmesh.new()
    bmesh.ops.create_uvsphere(form, u_segments=24, v_segments=12, radius=0.02)
    form.to_mesh(mesh)
    form.free()
    scenes.put(wall, mesh, "ball", (0.2, 0.1, 0.02))
    usecases.save(somewhere / "mixed.blend")
    return Path("mixed.blend")


def test_what_is_no_brick_is_left_alone_unless_it_is_included(run, mixed):
    told = answer(run("inspect", mixed, "--json"))
    assert told["bricks"] == 17
    assert [each["object"] for each in told["left_out"]] == ["ball"]
    assert "ball: has no studs" in run("inspect", mixed)[1]
    assert answer(run("inspect", mixed, "--include", "b*l", "--json"))["bricks"] == 18
    assert answer(run("inspect", mixed, "--leave", "part.00*", "--json"))["bricks"] == 1

    out = ("--preset", "fresh", "--out", "worn.blend", "--json")
    assert [each["object"] for each in answer(run("apply", mixed, *out))["skipped"]] == ["ball"]
    assert answer(run("apply", mixed, "--include", "ball", *out))["bricks"] == 18
    assert answer(run("inspect", "worn.blend", "--json"))["bricks"] == 18  # the word is kept in the file


def test_a_file_without_a_build_is_refused_by_apply_and_told_by_inspect(run, mixed, somewhere):
    usecases.open_build(mixed)
    bpy.data.batch_remove([thing for thing in bpy.data.objects if thing.name != "ball"])
    usecases.save(somewhere / "ball.blend")
    before = contents(somewhere)
    for named in ((), ("--build", "build")):
        code, out, err = run("apply", "ball.blend", "--preset", "fresh", "--out", "worn.blend", *named)
        assert (code, out) == (WRONG, "")
        assert "is no brick build" in err.splitlines()[-1]
        assert "--include" in err.splitlines()[-1]
    assert contents(somewhere) == before
    told = answer(run("inspect", "ball.blend", "--json"))
    assert told["bricks"] == 0
    assert "is no brick build" in told["warnings"][0]


def test_a_name_to_include_that_nothing_has_is_refused(run, build, somewhere):
    before = contents(somewhere)
    code, out, err = run("apply", build, "--include", "spider", "--preset", "fresh", "--out", "worn.blend")
    assert (code, out) == (WRONG, "")
    assert '"spider"' in err
    assert contents(somewhere) == before


MODELS = Path("/usr/share/assimp/models")  # of Debian's package assimp-testmodels: made by many hands, none a build
OTHERS = (
    "FBX/spider.fbx", "OBJ/spider.obj", "STL/Spider_binary.stl", "OBJ/WusonOBJ.obj", "FBX/box.fbx",
    "FBX/huesitos.fbx", "FBX/cubes_with_names.fbx", "PLY/cube.ply", "OBJ/box.obj",
    "glTF2/2CylinderEngine-glTF-Binary/2CylinderEngine.glb", "glTF2/ClearCoat-glTF/ClearCoatTest.gltf",
)  # fmt: skip


@pytest.mark.skipif(not MODELS.is_dir(), reason="assimp-testmodels is not installed")
@pytest.mark.parametrize("model", OTHERS)
def test_models_that_are_no_build_are_refused(run, model, somewhere):
    code, out, err = run("apply", MODELS / model, "--preset", "fresh", "--out", "worn.blend")
    assert (code, out) == (WRONG, "")
    assert "is no brick build" in err.splitlines()[-1]
    assert not (somewhere / "worn.blend").exists()


def test_the_presets(run, somewhere):
    listed = answer(run("presets", "list", "--json"))["presets"]
    assert {"fresh", "display-shelf", "well-loved", "toy-box", "attic", "sun-window", "workbench", "rental-kit"} <= {
        each["name"] for each in listed
    }
    assert "well-loved" in run("presets", "list")[1]
    shown = answer(run("presets", "show", "attic", "--json"))
    assert shown["name"] == "attic"
    assert "mm" in run("presets", "show", "attic")[1]

    answer(run("presets", "export", "attic", "mine.json", "--json"))
    assert json.loads(Path("mine.json").read_text(encoding="utf-8")) == shown
    assert run("presets", "check", "mine.json")[0] == DONE
    code, _, err = run("presets", "import", "mine.json")
    assert code == WRONG
    assert "attic" in err
    Path("mine.json").write_text(json.dumps({**shown, "name": "loft"}), encoding="utf-8")
    assert run("presets", "import", "mine.json")[0] == DONE
    assert "loft" in {each["name"] for each in answer(run("presets", "list", "--json"))["presets"]}
    assert answer(run("presets", "show", "loft", "--json")) == {**shown, "name": "loft"}


def copied(run, name: str, new: str) -> None:
    """Any preset as one of the user's own: through a file."""
    answer(run("presets", "export", name, f"{new}.json", "--json"))
    answer(run("presets", "import", f"{new}.json", "--as", new, "--json"))


def test_the_user_s_presets_from_the_command_line(run, somewhere):
    named = lambda *words: [each["name"] for each in answer(run("presets", "list", *words, "--json"))["presets"]]  # noqa: E731
    copied(run, "attic", "loft")
    assert run("presets", "edit", "loft", "--note", "Under the beams", "--tags", "wood", "old")[0] == DONE
    assert named("beams", "wood") == ["loft"]
    assert "wood, old" in run("presets", "list", "beams")[1]
    assert run("presets", "restore", "loft")[0] == DONE
    assert named("beams") == []
    assert run("presets", "edit", "loft", "--as", "roof")[0] == DONE
    assert run("presets", "delete", "roof")[0] == DONE
    assert "roof" not in named("old")
    assert run("presets", "restore", "roof")[0] == DONE
    assert "roof" in named("old")
    assert answer(run("presets", "export-all", "all.zip", "--json"))["presets"] == 1
    there = [each["result"] for each in answer(run("presets", "import", "all.zip", "--json"))["presets"]]
    assert there == ["was there already"]
    assert run("presets", "import", "all.zip", "--as", "other")[0] == WRONG
    answer(run("presets", "export", "roof", "roof.json", "--json"))
    assert run("presets", "import", "roof.json")[0] == WRONG
    assert answer(run("presets", "import", "roof.json", "--as", "eaves", "--json"))["preset"] == "eaves"
    for words in (("edit", "fresh", "--as", "mine"), ("delete", "fresh"), ("restore", "nobody"), ("restore", "eaves")):
        code, out, err = run("presets", *words)
        assert (code, out) == (WRONG, "")
        assert err.count("\n") == 1


def test_several_files_and_builds_get_a_table_and_an_exit_code(run, somewhere, build):
    scenes.collection("second")
    usecases.save(somewhere / "two.blend")
    (somewhere / "out").mkdir()
    text(somewhere, "broken.blend", "no file of Blender")
    words = ("apply", build, "broken.blend", "two.blend", "--preset", "fresh", "--out-dir", "out")
    code, out, err = run(*words, "--json", "--report", "told.json")
    assert code == WRONG
    told = json.loads(out)
    assert json.loads(Path("told.json").read_text(encoding="utf-8")) == told
    assert [(each["file"], each["bricks"]) for each in told["builds"]] == [
        ("wall.blend", 17), ("broken.blend", 0), ("two.blend", 17),
    ]  # fmt: skip
    assert "cannot be read as a .blend file" in told["builds"][1]["result"]
    assert told["files"] == ["out/wall.blend", "out/two.blend"]
    assert sorted(path.name for path in Path("out").iterdir()) == ["two.blend", "wall.blend"]
    assert "1 of 3 are as they were" in err
    code, out, _ = run("apply", build, "two.blend", "--preset", "fresh", "--out-dir", "out")
    assert code == DONE
    assert "done" in out


def test_builds_are_chosen_by_name_or_all_at_once(run, somewhere):
    bpy.ops.wm.read_factory_settings(use_empty=True)
    for name in ("castle", "tower"):
        scenes.wall().name = name
    usecases.save(somewhere / "both.blend")
    words = ("apply", "both.blend", "--preset", "fresh", "--out", "worn.blend", "--json")
    told = answer(run(*words, "--build", "tower"))
    assert (told["build"], told["bricks"]) == ("tower", 17)
    assert answer(run("check", "worn.blend", "--build", "tower", "--json"))["moved"] > 0
    assert answer(run("check", "worn.blend", "--build", "castle", "--json"))["moved"] == 0
    for scope in (("--all", "scene"), ("--all", "file"), ("--build", "castle", "--build", "tower")):
        told = answer(run(*words, *scope))
        assert [(each["build"], each["result"]) for each in told["builds"]] == [("castle", "done"), ("tower", "done")]
    assert answer(run("clear", "worn.blend", "--build", "castle", "--out", "bare.blend", "--json"))["build"] == "castle"
    code, _, err = run(*words, "--build", "keep")
    assert code == WRONG
    assert 'no build called "keep"' in err


def test_a_preset_goes_away_in_a_bundle_and_comes_back_from_a_file(run, somewhere, build):
    text(somewhere, "licence.txt", "Do as you like.")
    copied(run, "attic", "loft")
    told = answer(run("presets", "export", "loft", "loft.zip", "--licence", "licence.txt", "--json"))
    assert told["files"] == ["preset.json", "licence.txt"]
    assert run("presets", "import", "loft.zip")[0] == WRONG
    assert answer(run("presets", "import", "loft.zip", "--as", "loft-2", "--json"))["preset"] == "loft-2"
    assert run("apply", build, "--preset", "loft", "--seed", 4, "--out", "worn.blend")[0] == DONE
    assert run("presets", "delete", "loft")[0] == DONE
    told = answer(run("presets", "take", "worn.blend", "--json"))
    assert (told["preset"], told["seed"]) == ("loft", 4)
    assert run("presets", "show", "loft")[0] == DONE


def test_what_a_preset_holds_beyond_is_told(run, somewhere, build):
    preset = json.loads((library.shipped_folder() / "fresh.json").read_text(encoding="utf-8"))
    text(somewhere, "odd.json", json.dumps({**preset, "name": "odd", "look": [1]}))
    words = "look is no field of a preset: it is kept but does nothing"
    assert words in answer(run("presets", "check", "odd.json", "--json"))["warnings"][0]
    code, _, err = run("apply", build, "--preset", "odd.json", "--out", "worn.blend")
    assert code == DONE
    assert f"warning: {words}" in err
    answer(run("presets", "import", "odd.json", "--json"))
    assert json.loads(Path("presets/odd.json").read_text(encoding="utf-8"))["look"] == [1]


def test_the_textures_of_a_folder(run, somewhere):
    folder = somewhere / "pictures"
    folder.mkdir()
    image = bpy.data.images.new("smudges", 32, 16)
    image.file_format = "PNG"
    image.save(filepath=str(folder / "smudges.png"))
    (told,) = answer(run("textures", folder, "--json"))["textures"]
    assert told.keys() >= MEASURED
    assert (told["file"], told["width_px"], told["height_px"], told["kind"]) == ("smudges.png", 32, 16, "smudges")
    shown = run("textures", folder)[1]
    assert all(key.replace("_", " ") in shown for key in MEASURED - {"warnings"})
    assert told["warnings"]
    assert all(f"smudges.png: {warning}" in shown for warning in told["warnings"])


def test_lengths_of_marks_follow_the_preset_s_sizes(run, somewhere):
    folder = folder_of_pictures(somewhere, "scratches.png")
    (told,) = answer(run("textures", folder, "--json"))["textures"]
    preset = json.loads((library.shipped_folder() / "fresh.json").read_text(encoding="utf-8"))
    preset["wear"]["scratches"]["size_mm"] = 10.0
    text(somewhere, "small.json", json.dumps(preset))
    (small,) = answer(run("textures", folder, "--preset", "small.json", "--json"))["textures"]
    assert small["mark_px"] == told["mark_px"] > 0.0
    assert small["mark_mm"] == pytest.approx(told["mark_mm"] / 4.0, abs=1e-5)


def test_a_picture_that_cannot_be_read_is_told_the_others_are_listed(run, somewhere):
    folder = folder_of_pictures(somewhere, "scratches.png")
    (folder / "dust.png").write_bytes(b"no picture")
    code, out, err = run("textures", folder, "--json")
    assert code == WRONG
    assert [each["file"] for each in json.loads(out)["textures"]] == ["dust.png", "scratches.png"]
    assert err == "cannot be read: dust.png\n"


def test_apply_tells_what_became_of_each_picture_once(run, build, somewhere):
    folder = folder_of_pictures(somewhere, "scratches.png", "scuffs.png", "wood.png")
    told = answer(run("apply", build, "--preset", "attic", "--textures", folder, "--out", "worn.blend", "--json"))
    used = {each["picture"]: (each["layer"], each["reason"]) for each in told["textures"]}
    assert used["scratches.png"] == ("scratches", "")
    assert used["scuffs.png"] == ("", "scratches.png serves as scratches, the first by name")
    assert used["wood.png"] == ("", "its name does not tell what it is for")
    assert [each["layer"] for each in told["textures"] if each["picture"] == "stand-in"] == ["smudges", "dust"]
    out = run("apply", build, "--preset", "attic", "--textures", folder, "--out", "worn.blend")[1]
    assert out.count("wood.png") == 1
    assert answer(run("apply", build, "--preset", "attic", "--out", "bare.blend", "--json"))["textures"] == []

    assert answer(run("check", "worn.blend", "--json"))["missing_textures"] == []
    (folder / "scratches.png").unlink()
    assert answer(run("check", "worn.blend", "--json"))["missing_textures"] == ["scratches.png"]
    assert "scratches.png" in run("check", "worn.blend")[1]


def test_a_missing_textures_folder_is_told_before_the_build_is_read(run, somewhere, monkeypatch):
    monkeypatch.setattr(usecases, "open_build", lambda path: pytest.fail("the build was read"))
    code, _, err = run("apply", "a.glb", "--preset", "attic", "--textures", "nowhere", "--out", "w.blend")
    assert code == WRONG
    assert "nowhere" in err
    assert "does not exist" in err


def folder_of_pictures(somewhere: Path, *names: str) -> Path:
    made = folder(somewhere, "pictures")
    grey = np.ones((64, 64))
    grey[::16] = 0.2
    for name in names:
        (made / name).write_bytes(png.encode(grey))
    return made


def changed(somewhere: Path, **values) -> Path:
    """A preset file in which some values of the fit, or of the preset itself, are others."""
    preset = json.loads((library.shipped_folder() / "fresh.json").read_text(encoding="utf-8"))
    for name, value in values.items():
        (preset["fit"] if name in preset["fit"] else preset)[name] = value
    path = somewhere / "changed.json"
    path.write_text(json.dumps(preset), encoding="utf-8")
    return path


def cut(somewhere: Path, path: Path) -> Path:
    short = somewhere / f"cut{path.suffix}"
    short.write_bytes((somewhere / path).read_bytes()[: (somewhere / path).stat().st_size // 2])
    return short


def emptied(somewhere: Path, *, mesh: bool) -> Path:
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.context.scene.collection.objects.link(bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN")))
    if mesh:
        bpy.context.scene.collection.objects.link(bpy.data.objects.new("bare", bpy.data.meshes.new("bare")))
    usecases.save(somewhere / "empty.blend")
    return somewhere / "empty.blend"


def text(somewhere: Path, name: str, words: str) -> Path:
    (somewhere / name).write_text(words, encoding="utf-8")
    return somewhere / name


def folder(somewhere: Path, name: str) -> Path:
    (somewhere / name).mkdir()
    return somewhere / name


# What is wrong -> (the words to type after `apply`, in place of the right ones; what the sentence must say).
FILE, PRESET, OUT, TEXTURES = "FILE", "--preset", "--out", "--textures"
BAD = {
    "missing export": lambda here, blend, glb: ({FILE: here / "nowhere.glb"}, "does not exist"),
    "missing blend": lambda here, blend, glb: ({FILE: here / "nowhere.blend"}, "does not exist"),
    "folder as blend": lambda here, blend, glb: ({FILE: folder(here, "a.blend")}, "is a folder"),
    "truncated export": lambda here, blend, glb: ({FILE: cut(here, glb)}, "cannot be read"),
    "truncated blend": lambda here, blend, glb: ({FILE: cut(here, blend)}, "cannot be read"),
    "no blend at all": lambda here, blend, glb: ({FILE: text(here, "a.blend", "words")}, "cannot be read"),
    "unknown kind": lambda here, blend, glb: ({FILE: text(here, "a.step", "x")}, "not of a kind"),
    "no mesh": lambda here, blend, glb: ({FILE: emptied(here, mesh=False)}, "no mesh"),
    "no mesh in an export": lambda here, blend, glb: ({FILE: text(here, "a.obj", "v 0 0 0\n")}, "no mesh"),
    "empty build": lambda here, blend, glb: ({FILE: emptied(here, mesh=True)}, "no mesh"),
    "no textures folder": lambda here, blend, glb: ({TEXTURES: here / "nowhere"}, "does not exist"),
    "no image in it": lambda here, blend, glb: ({TEXTURES: folder(here, "none")}, "holds no"),
    "broken preset": lambda here, blend, glb: ({PRESET: text(here, "a.json", "{")}, "is not JSON"),
    "newer preset": lambda here, blend, glb: ({PRESET: changed(here, format=99)}, "newer"),
    "preset not a number": lambda here, blend, glb: ({PRESET: changed(here, shift_mm=float("nan"))}, "fit.shift_mm"),
    "preset negative": lambda here, blend, glb: ({PRESET: changed(here, lift_mm=-0.01)}, "fit.lift_mm"),
    "unknown preset": lambda here, blend, glb: ({PRESET: "nobody"}, "no preset called"),
    "set past its range": lambda here, blend, glb: ({"--set": "fit.shift_mm=5"}, "give a number from 0 to 0.3"),
    "set not a number": lambda here, blend, glb: ({"--set": "fit.shift_mm=nan"}, "fit.shift_mm"),
    "set a name": lambda here, blend, glb: ({"--set": "name=3"}, "no number of a preset"),
    "set unknown": lambda here, blend, glb: ({"--set": "fit.shove_mm=0.1"}, "no number of a preset"),
    "looseness not a number": lambda here, blend, glb: ({"--looseness": "nan"}, "looseness"),
    "looseness negative": lambda here, blend, glb: ({"--looseness": "-1"}, "looseness"),
    "wear endless": lambda here, blend, glb: ({"--wear": "inf"}, "wear"),
    "seed negative": lambda here, blend, glb: ({"--seed": "-3"}, "seed"),
    "no folder to write to": lambda here, blend, glb: ({OUT: here / "nowhere" / "w.blend"}, "no folder"),
    "a file as folder": lambda here, blend, glb: ({OUT: here / blend / "w.blend"}, "no folder"),
    "a folder as file": lambda here, blend, glb: ({OUT: folder(here, "w.blend")}, "is a folder"),
    "no folder for the report": lambda here, blend, glb: ({"--report": here / "nowhere" / "r.json"}, "no folder"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_sentence_and_nothing_is_written(name, run, build, export, somewhere):
    given, words = BAD[name](somewhere, build, export)
    typed = {FILE: build, PRESET: "fresh", OUT: "worn.blend"} | given
    file = typed.pop(FILE)
    before = contents(somewhere)
    code, out, err = run("apply", file, *(word for pair in typed.items() for word in pair))
    assert code == WRONG
    assert out == ""
    sentence = err.splitlines()[-1]
    assert words in sentence
    assert not sentence.endswith(".")
    told = [line for line in err.splitlines() if " %  " not in line[:7]]  # progress may stand before it
    assert told == [sentence]
    assert contents(somewhere) == before


@pytest.mark.parametrize("command", ["inspect", "check", "clear"])
@pytest.mark.parametrize("name", ["missing export", "truncated blend", "no mesh"])
def test_the_other_commands_refuse_alike(command, name, run, build, export, somewhere):
    given, words = BAD[name](somewhere, build, export)
    before = contents(somewhere)
    code, out, err = run(command, given[FILE], *(("--out", "c.blend") if command == "clear" else ("--json",)))
    assert (code, out) == (WRONG, "")
    assert words in err
    assert len(err.splitlines()) == 1
    assert contents(somewhere) == before


def test_a_folder_that_may_not_be_written_is_told_before_the_work(run, build, somewhere, monkeypatch):
    """The superuser may write anywhere, so the answer of the system is given in its place."""
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    before = contents(somewhere)
    code, out, err = run("apply", build, "--preset", "fresh", "--out", "worn.blend")
    assert (code, out) == (WRONG, "")
    assert "cannot be written" in err
    assert len(err.splitlines()) == 1
    assert contents(somewhere) == before


def test_a_full_disk_leaves_the_earlier_file(run, build, somewhere, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic.os, "replace", full)
    before = contents(somewhere)
    code, out, err = run("apply", build, "--preset", "fresh", "--out", build)
    assert (code, out) == (WRONG, "")
    assert "No space left" in err.splitlines()[-1]
    assert contents(somewhere) == before


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("fly",),
        ("inspect",),
        ("inspect", "a.glb", "--fast"),
        ("apply", "a.glb"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.glb"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.blend", "--report", "a.blend"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.blend", "--seed", "two"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.blend", "--wear", "much"),
        ("presets",),
        ("apply", "a.blend", "--preset", "fresh", "--out", "a.blend", "--set", "fit.shift_mm"),
        ("inspect", "a.blend", "--picture", "a.png"),
        ("presets", "export", "fresh", "fresh.txt"),
        ("presets", "paint"),
    ],
    ids=" ".join,
)
def test_wrong_usage(words, run, somewhere):
    code, out, err = run(*words)
    assert (code, out) == (USAGE, "")
    assert err.startswith("usage: ")
    assert contents(somewhere) == {}


def test_help_names_every_command(run):
    code, out, _ = run("--help")
    assert code == DONE
    for command in ("demo", "inspect", "apply", "clear", "check", "textures", "presets"):
        assert command in out


def test_a_build_of_a_fresh_process(build, somewhere):
    """The real thing once: a Python of its own, which also opens and closes Blender."""
    done = subprocess.run(
        [sys.executable, "-m", "addon", "apply", somewhere / build, "--preset", "fresh", "--out",
         somewhere / "worn.blend", "--json"],
        cwd=CHECKOUT, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["bricks"] == 17
    wrong = subprocess.run(
        [sys.executable, "-m", "addon", "inspect", somewhere / "nowhere.glb"],
        cwd=CHECKOUT, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert (wrong.returncode, wrong.stdout, len(wrong.stderr.splitlines())) == (1, "", 1)
