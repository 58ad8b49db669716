"""The library of presets: what is shipped, saved and found in it, and which files are none."""

import os
import shutil
from dataclasses import replace

import pytest

from addon.core.errors import FileProblem, PresetProblem
from addon.core.presets import bundle as bundles
from addon.core.presets import catalogue
from addon.core.presets import preset as presets
from addon.scene.presets import library
from addon.usecases.presets import library as usecases
from tests.blender.presets.folders import SHIPPED, files


def test_the_shipped_presets_are_listed_with_their_notes(own):
    listed = library.list_presets()
    assert [each.name for each in listed] == SHIPPED
    assert {each.origin for each in listed} == {library.SHIPPED}
    for each in listed:
        preset = library.find_preset(each.name)
        assert (each.note, each.tags, each.problem) == (preset.note, preset.tags, "")


def test_a_saved_preset_is_found_listed_and_saved_again(own):
    preset = library.find_preset("toy-box")
    path = library.save_preset(preset, "harbour-day")
    assert path == own / "harbour-day.json"
    assert library.find_preset("harbour-day") == replace(preset, name="harbour-day")
    assert library.list_presets()[-1] == ("harbour-day", preset.note, library.OWN, preset.tags, "")
    library.save_preset(replace(preset, note="Once more"), "harbour-day", replacing=True)
    assert library.find_preset("harbour-day").note == "Once more"
    assert files(own) == ["harbour-day.json", "trash/harbour-day~1.json"]


def test_a_preset_is_found_by_the_path_of_its_file(own, tmp_path):
    preset = replace(library.find_preset("attic"), name="loft")
    path = tmp_path / "loft.json"
    path.write_text(presets.dump(preset), encoding="utf-8")
    assert library.find_preset(path) == library.find_preset(str(path)) == preset
    assert not own.exists()


def test_an_unknown_name_lists_the_known_ones(own):
    library.save_preset(library.find_preset("fresh"), "mine")
    with pytest.raises(PresetProblem) as caught:
        library.find_preset("harbor")
    assert str(caught.value) == (
        'there is no preset called "harbor": choose one of ' + ", ".join(SHIPPED) + ", mine, or give a .json file"
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [("toy-box", "comes with Playworn"), ("../escape", "cannot be called"), ("", "cannot be called")],
)
def test_a_name_that_may_not_be_used_writes_nothing(own, name, words):
    with pytest.raises(PresetProblem, match=words):
        library.save_preset(library.find_preset("fresh"), name)
    assert not own.parent.exists()


def test_a_value_out_of_range_is_not_saved(own):
    preset = library.find_preset("fresh")
    wild = replace(preset, fit=replace(preset.fit, shift_mm=0.31))
    with pytest.raises(PresetProblem, match=r"fit\.shift_mm is 0\.31 in the preset mine"):
        library.save_preset(wild, "mine")
    assert not own.parent.exists()


def test_a_folder_that_is_a_file_is_told_in_a_sentence(own):
    own.parent.mkdir()
    own.write_text("not a folder")
    with pytest.raises(FileProblem, match="cannot be written"):
        library.save_preset(library.find_preset("fresh"), "mine")
    assert own.read_text() == "not a folder"


def test_a_failed_write_keeps_the_earlier_preset_and_leaves_nothing_behind(own, monkeypatch):
    preset = library.find_preset("fresh")
    path = library.save_preset(preset, "mine")
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, os.strerror(28))

    for step in ("fsync", "replace"):
        with monkeypatch.context() as broken:
            broken.setattr(os, step, full)
            with pytest.raises(FileProblem, match="No space left on device"):
                library.save_preset(replace(preset, note="lost"), "mine", replacing=True)
        assert path.read_bytes() == before
        assert files(own) == ["mine.json"]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_the_right_to_write_is_told_in_a_sentence(own):
    own.mkdir(parents=True)
    own.chmod(0o555)
    with pytest.raises(FileProblem, match="cannot be written"):
        library.save_preset(library.find_preset("fresh"), "mine")
    own.chmod(0o755)


def test_a_missing_file_is_told_in_a_sentence(own, tmp_path):
    with pytest.raises(FileProblem, match=r'gone\.json" cannot be read \(No such file or directory\)'):
        library.find_preset(tmp_path / "gone.json")
    (tmp_path / "folder.json").mkdir()
    with pytest.raises(FileProblem, match=r'folder\.json" cannot be read'):
        library.find_preset(tmp_path / "folder.json")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xff\xfe{\x00", "is not UTF-8 text"),
        ('{"note": "Möwe"}'.encode("latin-1"), "is not UTF-8 text"),
        (b" " * (presets.LARGEST + 1), "too many for a preset"),
        ("é".encode() * presets.LARGEST * 2, "too many for a preset"),
        (b"\x00" * 10, "is not JSON"),
    ],
)
def test_a_file_that_is_no_preset_is_told_in_a_sentence(own, tmp_path, data, words):
    path = tmp_path / "odd.json"
    path.write_bytes(data)
    with pytest.raises(PresetProblem, match=rf"^odd\.json .*{words}"):
        library.find_preset(path)


def test_a_byte_order_mark_does_no_harm(own, tmp_path):
    path = tmp_path / "marked.json"
    shipped = library.shipped_folder() / "fresh.json"
    path.write_bytes(b"\xef\xbb\xbf" + shipped.read_bytes().replace(b"\n", b"\r\n"))
    assert library.find_preset(path) == library.find_preset("fresh")


def test_a_broken_preset_stays_in_the_list_and_tells_why(own):
    library.save_preset(library.find_preset("fresh"), "mine")
    (own / "broken.json").write_text("{")
    shutil.copy(own / "mine.json", own / "renamed.json")
    by_name = {each.name: each for each in library.list_presets()}
    assert by_name["mine"].note == library.find_preset("fresh").note
    for name, words in (("broken", "is not JSON"), ("renamed", "name the file and the preset the same")):
        assert words in by_name[name].problem
        with pytest.raises(PresetProblem, match=words):
            library.find_preset(name)


def test_a_file_of_a_shipped_name_does_not_take_its_place_and_is_told(own):
    own.mkdir(parents=True)
    shutil.copy(library.shipped_folder() / "fresh.json", own / "fresh.json")
    assert library.find_preset("fresh").name == "fresh"
    shipped, hidden = [each for each in library.list_presets() if each.name == "fresh"]
    assert (shipped.origin, shipped.problem) == (library.SHIPPED, "")
    assert (hidden.origin, hidden.problem) == (
        library.OWN,
        'another one called "fresh" comes with Playworn and goes before it: rename this one',
    )
    usecases.edit_preset("fresh", "fresh", "Mine", ())
    assert library.own().read("fresh").note == "Mine"
    usecases.edit_preset("fresh", "fresh", "Twice", ())
    usecases.edit_preset("fresh", "my-fresh", shipped.note, shipped.tags)
    assert library.find_preset("my-fresh") == replace(library.find_preset("fresh"), name="my-fresh")
    assert files(own) == ["my-fresh.json", "trash/fresh~1.json", "trash/fresh~2.json"]


@pytest.mark.parametrize("name", ["con", "aux", "nul", "com1", "lpt9"])
def test_a_name_that_windows_keeps_for_itself_is_refused_everywhere(own, tmp_path, name):
    library.save_preset(library.find_preset("attic"), "mine")
    sent = tmp_path / "sent.json"
    sent.write_text(presets.dump(replace(library.find_preset("attic"), name=name)), "utf-8")
    (tmp_path / "sent.zip").write_bytes(bundles.pack(bundles.Bundle(library.read_preset(sent))))
    for act in (
        lambda: library.save_preset(library.find_preset("attic"), name),
        lambda: usecases.edit_preset("mine", name, "", ()),
        lambda: usecases.import_presets(sent),
        lambda: usecases.import_presets(tmp_path / "sent.zip"),
        lambda: usecases.import_presets(sent, name),
    ):
        with pytest.raises(PresetProblem, match="Windows keeps that name"):
            act()
    assert files(own) == ["mine.json"]
    (own / f"{name}.json").write_bytes(sent.read_bytes())  # one that was saved before stays readable
    assert library.find_preset(name).name == name
    usecases.edit_preset(name, "free", "", ())
    assert library.find_preset("free").fit == library.find_preset("attic").fit


def test_presets_are_found_by_words_and_tags(own):
    library.save_preset(replace(library.find_preset("attic"), note="Möwen am Pier", tags=("harbour-side",)), "pier")
    listed = library.list_presets()
    names = lambda words: [each.name for each in catalogue.matching(listed, words)]  # noqa: E731  said thrice below
    assert names("MÖWEN pier") == ["pier"]
    assert names("harbour-side") == ["pier"], "by its tags"
    assert names("möwen roof") == []
