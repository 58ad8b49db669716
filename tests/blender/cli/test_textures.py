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
