"""Presets in the panel: chosen, saved under a name, gone, and where they live."""

import json
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.scene.presets import library
from addon.ui import panels
from addon.ui.presets import choices
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import deltas


def test_another_preset_acts_at_once_on_an_applied_build(build, settings):
    settings.preset = "fresh"
    assert usecases.recall(build) is None
    bpy.ops.playworn.apply()
    fresh = np.abs(deltas()).max()
    settings.preset = "toy-box"
    assert usecases.recall(build).preset.name == "toy-box"
    assert np.abs(deltas()).max() > fresh


def test_a_saved_preset_holds_the_dials_and_looks_the_same(build, settings, own):
    settings.preset, settings.looseness = "fresh", 1.5
    bpy.ops.playworn.apply()
    before = deltas()
    assert bpy.ops.playworn.save_preset(name="harbour-day") == {"FINISHED"}
    assert [path.name for path in own.glob("[!.]*")] == ["harbour-day.json"]
    assert json.loads((own / "harbour-day.json").read_text())["fit"]["shift_mm"] == pytest.approx(0.018)
    assert (settings.preset, settings.looseness, settings.wear) == ("harbour-day", 1.0, 1.0)
    assert usecases.recall(build).preset.name == "harbour-day"
    np.testing.assert_allclose(deltas(), before, atol=1e-8)


def test_a_preset_that_is_gone_stays_chosen_and_works_from_the_file(build, settings, own):
    bpy.ops.playworn.save_preset(name="harbour-day")
    bpy.ops.playworn.apply()
    worn = deltas()
    (own / "harbour-day.json").unlink()
    choices.forget()
    assert settings.preset == "harbour-day"
    assert choices.items("harbour-day")[-1][1] == "Harbour Day (not in the library)"
    assert drawn(panels.BuildPanel)
    settings.seed = 5
    assert not np.array_equal(deltas(), worn)
    settings.seed = 0
    assert bpy.ops.playworn.apply() == {"FINISHED"}
    assert np.array_equal(deltas(), worn)
    bpy.ops.playworn.clear()
    with pytest.raises(RuntimeError, match='there is no preset called "harbour-day"'):
        bpy.ops.playworn.apply()


def test_new_presets_do_not_change_the_choice(settings, own):
    settings.preset = "toy-box"
    library.save_preset(library.find_preset("fresh"), "a-first")
    choices.forget()
    assert settings.preset == "toy-box"


@pytest.mark.parametrize(
    ("typed", "name"), [("My Look", "my-look"), ("Crème brûlée (2)", "creme-brulee-2"), ("../X", "x")]
)
def test_a_name_is_typed_as_one_likes(settings, own, typed, name):
    bpy.ops.playworn.save_preset(name=typed, tags="Rainy, rainy Façade")
    assert [path.name for path in own.glob("*.json")] == [f"{name}.json"]
    assert settings.preset == name
    assert library.find_preset(name).tags == ("rainy", "facade")


@pytest.mark.parametrize("name", ["toy-box", "Toy Box", "灯台", "--", "CON"])
def test_a_name_that_may_not_be_used_is_told_and_changes_nothing(settings, own, name):
    settings.looseness = 1.5
    with pytest.raises(RuntimeError, match=r"choose another name|cannot be called"):
        bpy.ops.playworn.save_preset(name=name)
    assert not own.exists()
    assert settings.looseness == 1.5


def test_presets_of_an_installed_extension_live_in_its_own_user_folder(extension, monkeypatch):
    monkeypatch.delenv(library.FOLDER_VARIABLE)
    assert library.own_folder() == Path(bpy.utils.user_resource("CONFIG")) / "playworn" / "presets"
    monkeypatch.setattr(library, "__package__", "bl_ext.user_default.playworn.addon.scene")
    expected = bpy.utils.extension_path_user("bl_ext.user_default.playworn", path="presets")
    assert library.own_folder() == Path(expected)
    assert Path(expected).parts[-4:] == (".user", "user_default", "playworn", "presets")


def test_what_a_preset_cannot_take_of_the_dials_stays_on_them(build, settings, own):
    settings.preset, settings.wear = "toy-box", 2.0
    bpy.ops.playworn.apply()
    bpy.ops.playworn.save_preset(name="scuffed")
    saved = json.loads((own / "scuffed.json").read_text())["wear"]
    assert (saved["scratches"]["amount"], saved["dust"]["amount"]) == (1.0, pytest.approx(0.36))
    assert settings.wear == 1.0
    left = json.loads(settings.layer_dials)
    assert left == pytest.approx({"scratches": 2.0, "smudges": 1.7, "rub": 2.0})
    assert usecases.recall(build).layers == pytest.approx(left)
