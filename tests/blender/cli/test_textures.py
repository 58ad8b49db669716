"""A folder of textures from the command line: measured, used, missing."""

import json

import bpy
import pytest

from addon import usecases
from addon.scene.presets import library
from tests.blender.cli.folders import WRONG, answer, folder_of_pictures, text

MEASURED = {
    "file", "width_px", "height_px", "bits", "level_1", "level_50", "level_99", "seam", "mark_px", "mark_mm",
    "direction_deg", "alignment", "gain", "kind", "looks_like", "warnings",
}  # fmt: skip


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
    folder = folder_of_pictures(somewhere, "scratches.png", "scuffs.png", "wood.png", "glass.png")
    how = ("--preset", "attic", "--textures", folder, "--use", "glass.png=smudges", "--out", "worn.blend")
    told = answer(run("apply", build, *how, "--json"))
    used = {each["picture"]: (each["layer"], each["reason"]) for each in told["textures"]}
    assert used["scratches.png"] == ("scratches", "")
    assert used["scuffs.png"] == ("scratches", "")
    assert used["glass.png"] == ("smudges", "")
    assert used["wood.png"] == ("", "its name does not tell what it is for")
    assert [each["layer"] for each in told["textures"] if each["picture"] == "stand-in"] == ["dust"]
    out = run("apply", build, *how)[1]
    assert out.count("wood.png") == 1
    assert answer(run("apply", build, "--preset", "attic", "--out", "bare.blend", "--json"))["textures"] == []

    assert answer(run("check", "worn.blend", "--json"))["missing_textures"] == []
    (folder / "glass.png").unlink()
    assert answer(run("check", "worn.blend", "--json"))["missing_textures"] == ["glass.png"]
    assert "glass.png" in run("check", "worn.blend")[1]


def test_a_missing_textures_folder_is_told_before_the_build_is_read(run, somewhere, monkeypatch):
    monkeypatch.setattr(usecases, "open_build", lambda path: pytest.fail("the build was read"))
    code, _, err = run("apply", "a.glb", "--preset", "attic", "--textures", "nowhere", "--out", "w.blend")
    assert code == WRONG
    assert "nowhere" in err
    assert "does not exist" in err


@pytest.mark.parametrize(
    ("use", "words"),
    [
        ("gone.png=dust", 'no picture "gone.png"'),
        ("wood.png=rub", "is not FILE=LAYER with a layer of scratches, smudges, dust, other"),
        ("dust", "is not FILE=LAYER"),
    ],
)
def test_what_cannot_be_used_so_is_told_before_the_build_is_read(use, words, run, somewhere, monkeypatch):
    monkeypatch.setattr(usecases, "open_build", lambda path: pytest.fail("the build was read"))
    folder = folder_of_pictures(somewhere, "wood.png")
    code, _, err = run("apply", "a.glb", "--preset", "attic", "--textures", folder, "--use", use, "--out", "w.blend")
    assert code != 0
    assert words in err


def test_the_table_and_a_bundle_follow_what_was_chosen(run, somewhere):
    folder = folder_of_pictures(somewhere, "wood.png", "dust.png")
    uses = ("--use", "wood.png=dust", "--use", "dust.png=smudges")
    told = answer(run("textures", folder, *uses, "--json"))["textures"]
    assert {each["file"]: (each["kind"], each["by_hand"]) for each in told} == {
        "wood.png": ("dust", True), "dust.png": ("smudges", True),
    }  # fmt: skip
    made = answer(run("presets", "export", "attic", "a.zip", "--textures", folder, *uses, "--json"))
    pictures = [file for file in made["files"] if file.startswith("textures/")]
    assert pictures == ["textures/dust smudges.png", "textures/wood dust.png"]
