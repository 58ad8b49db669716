"""The user's own presets: changed, deleted and brought back, every version kept."""

from dataclasses import replace

import pytest

from addon.core.errors import FileProblem, PresetProblem
from addon.core.presets import preset as presets
from addon.scene.presets import library, lock
from addon.usecases.presets import library as usecases
from tests.blender.presets.folders import files


def test_a_new_name_never_takes_another_s_place(own):
    """Two Blenders: both think the name is free, the second is told."""
    library.save_preset(library.find_preset("fresh"), "mine")
    with pytest.raises(PresetProblem, match='you have a preset called "mine" already'):
        library.save_preset(library.find_preset("attic"), "mine")
    assert library.find_preset("mine").wear == library.find_preset("fresh").wear


def test_what_another_blender_changed_is_not_lost(own):
    """Both have looked at the first version, and both save over it: the one that was replaced comes back."""
    base = replace(library.find_preset("fresh"), name="mine")
    library.save_preset(base, "mine")
    for note in ("from the other", "from this one"):
        library.save_preset(replace(base, note=note), "mine", replacing=True)
    assert library.find_preset("mine").note == "from this one"
    usecases.restore_preset("mine")
    assert library.find_preset("mine").note == "from the other"
    assert files(own) == ["mine.json", "trash/mine~1.json", "trash/mine~3.json"]


def test_every_version_is_kept_and_the_last_comes_back(own):
    base = library.find_preset("fresh")
    library.save_preset(replace(base, note="one"), "mine")
    with pytest.raises(PresetProblem, match="was deleted or replaced: choose one of none"):
        usecases.restore_preset("mine")
    for note in ("two", "three"):
        library.save_preset(replace(base, note=note), "mine", replacing=True)
    for note in ("two", "three", "two"):
        usecases.restore_preset("mine")
        assert library.find_preset("mine").note == note
    kept = {library.read_preset(path).note for path in (own / "trash").glob("*.json")}
    assert kept == {"one", "three"}


def test_a_version_that_was_kept_in_the_folder_earlier_comes_back(own):
    """Where the version before the last one lay before all of them went to the trash."""
    base = library.find_preset("fresh")
    library.save_preset(replace(base, note="two"), "mine")
    (own / "earlier").mkdir()
    (own / "earlier" / "mine.json").write_text(presets.dump(replace(base, name="mine", note="one")), "utf-8")
    assert usecases.presets_in_trash() == ("mine",)
    for note in ("one", "two"):
        usecases.restore_preset("mine")
        assert library.find_preset("mine").note == note


def test_a_deleted_preset_comes_back_with_its_picture(own):
    for note in ("one", "two"):
        library.save_preset(replace(library.find_preset("fresh"), note=note), "mine")
        (own / "mine.png").write_bytes(note.encode())
        usecases.delete_preset("mine")
    assert "mine" not in [each.name for each in library.list_presets()]
    assert not (own / "mine.png").exists()
    assert usecases.presets_in_trash() == ("mine",)
    for note in ("two", "one"):
        usecases.restore_preset("mine")
        assert library.find_preset("mine").note == note
        assert (own / "mine.png").read_bytes() == note.encode()
        usecases.edit_preset("mine", f"mine-{note}", note, ())
    with pytest.raises(PresetProblem, match="the trash is empty"):
        usecases.restore_preset("mine")
    assert files(own) == ["mine-one.json", "mine-one.png", "mine-two.json", "mine-two.png"]


def test_a_renamed_or_copied_preset_is_the_same_but_for_its_name(own):
    preset = presets.parse(presets.dump(library.find_preset("attic")).replace('"fit"', '"look": 3,\n  "fit"'), "x")
    library.save_preset(preset, "mine")
    library.save_preset(library.find_preset("mine"), "copy")
    usecases.edit_preset("mine", "other", preset.note, preset.tags)
    for name in ("copy", "other"):
        assert library.find_preset(name) == replace(preset, name=name)
    with pytest.raises(PresetProblem, match="already"):
        usecases.edit_preset("copy", "other", "", ())
    with pytest.raises(PresetProblem, match="comes with Playworn"):
        usecases.edit_preset("copy", "fresh", "", ())
    assert files(own) == ["copy.json", "other.json"]


def test_a_note_and_tags_are_changed(own):
    library.save_preset(library.find_preset("attic"), "mine")
    usecases.edit_preset("mine", "mine", "Rain on the pier", ("wet",))
    assert library.list_presets()[-1] == ("mine", "Rain on the pier", library.OWN, ("wet",), "")
    with pytest.raises(PresetProblem, match="tags is "):
        usecases.edit_preset("mine", "mine", "", ("Not a tag",))


@pytest.mark.parametrize("name", ["../shipped", "gone", "", ".", "a/b"])
def test_what_is_not_there_cannot_be_changed(own, name):
    library.save_preset(library.find_preset("attic"), "mine")
    outside = own.parent / "shipped.json"
    outside.write_bytes((own / "mine.json").read_bytes())
    before = files(own.parent)
    for act in (
        lambda: usecases.delete_preset(name),
        lambda: usecases.edit_preset(name, "other", "", ()),
        lambda: usecases.edit_preset(name, name, "", ()),
        lambda: usecases.restore_preset(name),
    ):
        with pytest.raises(PresetProblem):
            act()
    assert files(own.parent) == before


def test_a_folder_in_use_is_told(own, monkeypatch):
    library.save_preset(library.find_preset("attic"), "mine")
    monkeypatch.setattr(lock, "_PATIENCE_S", 0.05)
    with lock.locked(own), pytest.raises(FileProblem, match="another Blender is writing"):
        usecases.delete_preset("mine")
    usecases.delete_preset("mine")
