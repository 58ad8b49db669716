"""The library in the panel: what it lists, and what its buttons do to the user's presets."""

import zipfile
from dataclasses import replace
from pathlib import Path

import bpy
import pytest

from addon import usecases
from addon.core.presets import preset as presets
from addon.scene.presets import library
from addon.ui.presets import choices, thumbnails
from addon.ui.presets import library as ui_library
from addon.ui.wear import spread
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import wall

OPERATORS = bpy.ops.playworn


def mine(settings, name: str = "mine", **changes) -> None:
    """A preset of the user's own, chosen."""
    library.save_preset(replace(library.find_preset("attic"), **changes), name)
    choices.forget()
    settings.preset = name


def shown() -> list[str]:
    return drawn(ui_library.LibraryPanel)


def test_the_library_shows_every_preset_and_what_uninstalling_does(settings):
    told = " ".join(shown())
    assert "Shipped with Playworn" in told
    assert "Your Own" not in told
    assert "Uninstalling" not in told
    mine(settings)
    told = " ".join(shown())
    assert "Your Own" in told
    assert "Uninstalling Playworn deletes your own presets" in told
    assert "playworn.export_presets" in shown()


def test_a_search_narrows_it(settings):
    mine(settings, note="Rain on the pier", tags=("wet",))
    search = bpy.context.window_manager.playworn
    search.words = "RAIN pier"
    assert "Your Own" in shown()
    assert "Shipped with Playworn" not in shown()
    search.words = "wet"
    assert "Your Own" in shown()
    search.words = "snow"
    assert "No preset has all of this" in shown()


def test_a_broken_preset_tells_why(settings, own):
    mine(settings)
    (own / "broken.json").write_text("{")
    choices.forget()
    assert "Broken: broken.json is not JSON" in " ".join(shown())
    with pytest.raises(RuntimeError, match="can be used"):
        OPERATORS.choose_preset(name="broken")


def test_the_menus_offer_what_can_be_done(settings):
    offered = drawn(ui_library.LibraryMenu) + drawn(spread.ApplyMenu)
    assert {"playworn.edit_preset", "playworn.delete_preset", "playworn.restore_preset"} <= set(offered)
    assert offered.count("playworn.apply_to_all") == len(spread.SCOPES) == 3


def test_every_shipped_preset_has_its_picture(settings):
    assert all(library.picture(each, library.find_preset(each.name)) for each in choices.listed())
    assert len(thumbnails.icons(choices.listed())) == len(choices.listed())


def test_a_preset_is_chosen(settings):
    assert OPERATORS.choose_preset(name="toy-box") == {"FINISHED"}
    assert settings.preset_name == "toy-box"


def test_shipped_presets_are_copied_and_nothing_else(settings):
    settings.preset = "attic"
    for name in ("edit_preset", "delete_preset"):
        with pytest.raises(RuntimeError, match="Choose a preset of your own"):
            getattr(OPERATORS, name)()
    assert OPERATORS.save_preset(name="attic-2") == {"FINISHED"}
    assert library.find_preset("attic-2") == replace(library.find_preset("attic"), name="attic-2")
    assert settings.preset_name == "attic-2"


def test_own_presets_are_renamed_described_deleted_and_brought_back(settings):
    mine(settings)
    OPERATORS.edit_preset(name="pier", note="Rain", tags="wet, old")
    assert settings.preset_name == "pier"
    assert (library.find_preset("pier").note, library.find_preset("pier").tags) == ("Rain", ("wet", "old"))
    OPERATORS.edit_preset(name="pier", note="Sun")
    OPERATORS.restore_preset(name="pier")
    assert library.find_preset("pier").note == "Rain"
    OPERATORS.delete_preset()
    assert "pier" not in [each.name for each in choices.listed()]
    settings.preset = "fresh"
    OPERATORS.restore_preset(name="pier")
    assert library.find_preset("pier").name == settings.preset_name == "pier"
    with pytest.raises(TypeError, match="not found"):
        OPERATORS.restore_preset(name="never-there")


def test_a_deleted_preset_stays_on_its_build(build, settings):
    mine(settings)
    OPERATORS.apply()
    OPERATORS.delete_preset()
    assert usecases.recall(build).preset.name == "mine"
    assert OPERATORS.apply() == {"FINISHED"}


def test_saving_over_a_preset_has_to_be_meant(settings):
    mine(settings)
    settings.preset = "fresh"
    with pytest.raises(RuntimeError, match='you have a preset called "mine" already'):
        OPERATORS.save_preset(name="mine")
    assert library.find_preset("mine").fit == library.find_preset("attic").fit
    OPERATORS.save_preset(name="mine", replace=True, note="New", tags="one two")
    saved = library.find_preset("mine")
    assert (saved.fit, saved.note, saved.tags) == (library.find_preset("fresh").fit, "New", ("one", "two"))


def test_presets_go_out_and_come_in(settings, tmp_path):
    mine(settings)
    OPERATORS.export_presets(filepath=str(tmp_path / "all"))
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        assert packed.namelist() == ["playworn/manifest.json", "mine.json"]
    OPERATORS.edit_preset(name="other")
    assert OPERATORS.import_preset(filepath=str(tmp_path / "all.zip")) == {"FINISHED"}
    assert library.find_preset("mine").fit == library.find_preset("other").fit
    assert settings.preset_name == "other", "none of several is chosen"
    path = tmp_path / "theirs.json"
    path.write_text(presets.dump(replace(library.find_preset("fresh"), name="theirs")), encoding="utf-8")
    OPERATORS.import_preset(filepath=str(path))
    assert settings.preset_name == "theirs"
    with pytest.raises(RuntimeError, match="already"):
        OPERATORS.import_preset(filepath=str(path))


def test_what_a_preset_holds_beyond_is_told_when_it_is_applied(build, settings, own, capfd):
    mine(settings)
    text = (own / "mine.json").read_text("utf-8").replace('"fit"', '"look": 3,\n  "fit"')
    (own / "mine.json").write_text(text, "utf-8")
    choices.forget()
    OPERATORS.apply()
    assert "look is no field of a preset: it is kept but does nothing" in capfd.readouterr().out
    assert '"look": 3' in build["playworn"]


def test_several_builds_get_the_preset_at_once(build, settings):
    other = wall()
    other.name = "tower"
    for thing in other.objects:
        thing.select_set(True)
    settings.preset = "toy-box"
    assert OPERATORS.apply_to_all(scope="SELECTION") == {"FINISHED"}
    assert (usecases.recall(build), usecases.recall(other).preset.name) == (None, "toy-box")
    settings.preset = "fresh"
    OPERATORS.apply_to_all(scope="SCENE")
    assert [usecases.recall(room).preset.name for room in (build, other)] == ["fresh", "fresh"]
    bpy.ops.object.select_all(action="DESELECT")
    assert OPERATORS.apply_to_all(scope="SELECTION") == {"FINISHED"}


def test_the_look_of_another_file_is_taken(build, settings, tmp_path):
    mine(settings)
    OPERATORS.apply()
    usecases.save(tmp_path / "worn.blend")
    OPERATORS.delete_preset()
    settings.preset = "fresh"
    with pytest.raises(RuntimeError, match="does not exist"):
        OPERATORS.take_look(filepath=str(tmp_path / "gone.blend"))
    OPERATORS.take_look(filepath=str(tmp_path / "worn.blend"))
    assert settings.preset_name == "mine"
    assert library.find_preset("mine").fit == library.find_preset("attic").fit


def test_a_bundle_brings_its_textures_into_the_panel(build, settings, tmp_path):
    (tmp_path / "pictures").mkdir()
    image = bpy.data.images.new("scratches", 32, 16)
    image.file_format = "PNG"
    image.save(filepath=str(tmp_path / "pictures" / "scratches.png"))
    mine(settings)
    settings.textures = str(tmp_path / "pictures")
    OPERATORS.bundle_preset(filepath=str(tmp_path / "mine"), licence="Do as you like")
    OPERATORS.edit_preset(name="other")
    settings.textures = ""
    OPERATORS.import_preset(filepath=str(tmp_path / "mine.zip"))
    assert settings.preset_name == "mine"
    assert [path.name for path in Path(settings.textures).iterdir()] == ["scratches.png"]
    assert (Path(settings.textures).parent / "licence.txt").read_text("utf-8") == "Do as you like\n"
