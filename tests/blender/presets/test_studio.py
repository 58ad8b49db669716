"""The studio's presets: before the user's, never written to, wherever its folder is told."""

import shutil
from types import SimpleNamespace

import bpy
import pytest

from addon.core.errors import PresetProblem
from addon.scene.presets import library
from addon.usecases.presets import library as usecases
from tests.blender.presets.folders import SHIPPED, files


def test_the_studio_goes_before_the_user_and_after_what_is_shipped(own, studio):
    listed = [(each.name, each.origin, bool(each.problem)) for each in library.list_presets()]
    assert listed[len(SHIPPED) :] == [("fresh", library.STUDIO, True), ("house-look", library.STUDIO, False)]
    assert library.find_preset("fresh").note != library.find_preset("house-look").note
    with pytest.raises(PresetProblem, match="house-look belongs to the studio and stays as it is"):
        library.save_preset(library.find_preset("attic"), "house-look")
    own.mkdir(parents=True)
    shutil.copy(library.shipped_folder() / "toy-box.json", own / "house-look.json")
    assert library.find_preset("house-look").tags == ("house",)


def test_nothing_is_ever_written_in_the_studio_s_folder(own, studio):
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in studio.iterdir()}
    library.save_preset(library.find_preset("house-look"), "mine")
    for act in (
        lambda: usecases.delete_preset("house-look"),
        lambda: usecases.restore_preset("house-look"),
        lambda: usecases.edit_preset("house-look", "other", "note", ()),
        lambda: library.save_preset(library.find_preset("attic"), "house-look", replacing=True),
    ):
        with pytest.raises(PresetProblem):
            act()
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in studio.iterdir()} == before
    assert files(own) == ["mine.json"]


def test_a_studio_folder_that_is_gone_leaves_the_rest(own, monkeypatch, tmp_path):
    monkeypatch.setenv(library.STUDIO_VARIABLE, str(tmp_path / "unmounted"))
    assert [each.name for each in library.list_presets()] == SHIPPED


@pytest.mark.parametrize("package", ["bl_ext.user_default.playworn", "bl_ext.studio.playworn"])
def test_an_installed_extension_finds_the_studio_in_its_preferences(own, tmp_path, monkeypatch, package):
    """Where Blender keeps preferences, by the package's name; the environment variable goes before them."""
    chosen = SimpleNamespace(preferences=SimpleNamespace(studio_folder=str(tmp_path / "of the preferences")))
    context = SimpleNamespace(preferences=SimpleNamespace(addons={package: chosen}))
    monkeypatch.setattr(library, "__package__", f"{package}.addon.scene")
    monkeypatch.setattr(bpy, "context", context)
    assert library.studio_folder() == tmp_path / "of the preferences"
    chosen.preferences.studio_folder = ""
    assert library.studio_folder() is None
    monkeypatch.setenv(library.STUDIO_VARIABLE, str(tmp_path / "of the machine"))
    assert library.studio_folder() == tmp_path / "of the machine"
