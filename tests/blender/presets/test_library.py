"""The library of presets: shipped, of the studio, of the user; what is saved, changed and deleted in it."""

import os
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import bpy
import pytest

from addon.core.errors import BundleProblem, FileProblem, PlaywornError, PresetProblem
from addon.core.presets import bundle as bundles
from addon.core.presets import catalogue
from addon.core.presets import preset as presets
from addon.core.report import TakenIn
from addon.scene.presets import library, lock
from addon.usecases.presets import library as usecases
from tests.core.presets import test_bundle, test_own

SHIPPED = sorted(path.stem for path in Path(__file__).resolve().parents[3].joinpath("presets").glob("*.json"))


@pytest.fixture
def own(tmp_path, monkeypatch) -> Path:
    """The user's folder, not there yet, and no studio."""
    folder = tmp_path / "of the user" / "presets"
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(folder))
    monkeypatch.delenv(library.STUDIO_VARIABLE, raising=False)
    return folder


@pytest.fixture
def studio(own, tmp_path, monkeypatch) -> Path:
    """A studio with one preset, and one of the name of a shipped one."""
    folder = tmp_path / "studio"
    folder.mkdir()
    monkeypatch.setenv(library.STUDIO_VARIABLE, str(folder))
    for name in ("house-look", "fresh"):
        preset = replace(library.find_preset("attic"), name=name, tags=("house",))
        (folder / f"{name}.json").write_text(presets.dump(preset), encoding="utf-8")
    return folder


def files(folder: Path) -> list[str]:
    """All files but the one that holds the lock."""
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file() and path.name != ".lock"
    )


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


def test_presets_are_found_by_words_and_tags(own):
    library.save_preset(replace(library.find_preset("attic"), note="Möwen am Pier", tags=("harbour-side",)), "pier")
    listed = library.list_presets()
    names = lambda words: [each.name for each in catalogue.matching(listed, words)]  # noqa: E731  said thrice below
    assert names("MÖWEN pier") == ["pier"]
    assert names("harbour-side") == ["pier"], "by its tags"
    assert names("möwen roof") == []


def test_all_of_the_user_s_presets_go_into_one_zip(own, tmp_path):
    with pytest.raises(PresetProblem, match="no preset of your own"):
        usecases.export_presets(tmp_path / "all.zip")
    for name in ("mine", "gone"):
        library.save_preset(library.find_preset("attic"), name)
    library.save_preset(library.find_preset("attic"), "mine", replacing=True)
    (own / "mine.png").write_bytes(test_bundle.THUMBNAIL)
    (own / "shopping list.txt").write_text("glue")
    usecases.delete_preset("gone")
    assert usecases.export_presets(tmp_path / "all.zip") == (1, ("shopping list.txt",))
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        assert packed.namelist() == ["playworn/manifest.json", "mine.json", "mine.png"]
        assert packed.read("mine.json") == (own / "mine.json").read_bytes()


@pytest.fixture
def everything(own, bundle, tmp_path) -> Path:
    """Two presets, one with a picture, one out of a bundle with its texture, and a third that is broken, in one zip."""
    usecases.import_presets(bundle)
    library.save_preset(library.find_preset("toy-box"), "chest")
    (own / "broken.json").write_text("{")
    usecases.export_presets(tmp_path / "all.zip")
    return tmp_path / "all.zip"


def held(folder: Path) -> dict[str, bytes]:
    paths = (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


def results(path: Path) -> dict[str, str]:
    return {each.name.partition("/")[0]: each.result for each in usecases.import_presets(path).several}


def test_all_that_was_the_user_s_comes_back_in_one_step(own, everything):
    before = held(own)
    shutil.rmtree(own)
    told = results(everything)
    assert [told[name] for name in ("loft", "chest", "bundles")] == [TakenIn.DONE] * 3
    assert "is not JSON" in told["broken"]
    assert held(own) == {place: data for place, data in before.items() if place != "broken.json"}
    again = results(everything)
    assert [again[name] for name in ("loft", "chest", "bundles")] == [TakenIn.THERE] * 3
    assert held(own) == {place: data for place, data in before.items() if place != "broken.json"}


def test_what_is_there_already_is_never_written_over(own, everything):
    shutil.rmtree(own)
    library.save_preset(library.find_preset("fresh"), "loft")
    results(everything)
    texture = next((own / "bundles").rglob("scratches.png"))
    texture.write_bytes(b"mine")
    usecases.delete_preset("chest")
    before = held(own)
    told = results(everything)
    assert told["chest"] == TakenIn.DONE
    assert 'you have a preset called "loft" already' in told["loft"]
    assert "has another textures/scratches.png" in told["bundles"]
    after = held(own)
    assert {place: after[place] for place in before} == before
    with pytest.raises(BundleProblem, match=r"has another textures/scratches\.png"):
        usecases.import_presets(next(everything.parent.glob("loft.zip")), "loft-2")


def test_a_shipped_name_in_an_export_is_left_alone(own, everything):
    shutil.rmtree(own)
    held_in = bundles.unpack(everything.read_bytes(), "all.zip")
    attic = held_in.presets["loft.json"].replace(b'"loft"', b'"attic"')
    everything.write_bytes(bundles.pack_own({"attic.json": attic, "moved.json": attic}))
    told = results(everything)
    assert "comes with Playworn" in told["attic"]
    assert "name the file and the preset the same" in told["moved"]
    assert files(own) == []


def test_hostile_exports_leave_nothing_behind(own, everything):
    before = held(own)
    for make in test_own.HOSTILE.values():
        everything.write_bytes(make())
        with pytest.raises(PlaywornError, match=r"all\.zip"):
            usecases.import_presets(everything)
        assert held(own) == before


def test_a_full_disk_is_told_for_each_preset(own, everything, monkeypatch):
    shutil.rmtree(own)

    def full(*_):
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    assert all("No space left on device" in result for name, result in results(everything).items() if name != "broken")
    assert held(own) == {}


def test_a_folder_in_use_is_told(own, monkeypatch):
    library.save_preset(library.find_preset("attic"), "mine")
    monkeypatch.setattr(lock, "_PATIENCE_S", 0.05)
    with lock.locked(own), pytest.raises(FileProblem, match="another Blender is writing"):
        usecases.delete_preset("mine")
    usecases.delete_preset("mine")


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


@pytest.fixture
def bundle(own, tmp_path) -> Path:
    """A preset of the user's own with a picture, a texture and a licence, sent away and then deleted here."""
    pictures = tmp_path / "pictures"
    pictures.mkdir()
    (pictures / "scratches.png").write_bytes(test_bundle.PICTURE)
    (pictures / "scratches_2.png").write_bytes(test_bundle.PICTURE)
    library.save_preset(library.find_preset("attic"), "loft")
    shutil.copy(library.shipped_folder() / "attic.png", own / "loft.png")
    usecases.bundle_preset("loft", tmp_path / "loft.zip", pictures, "Do as you like.")
    shutil.rmtree(own)
    return tmp_path / "loft.zip"


def test_a_bundle_brings_all_that_belongs_to_a_preset(own, bundle):
    preset, path, textures, _ = usecases.import_presets(bundle)
    assert (preset, path) == (replace(library.find_preset("attic"), name="loft"), own / "loft.json")
    assert [each.name for each in textures.iterdir()] == ["scratches.png"], "only what the wear uses is sent"
    assert (textures / "scratches.png").read_bytes() == test_bundle.PICTURE
    assert (textures.parent / "licence.txt").read_text("utf-8") == "Do as you like."
    assert (own / "loft.png").read_bytes() == (library.shipped_folder() / "attic.png").read_bytes()


def test_a_bundle_never_takes_another_preset_s_place(own, bundle):
    usecases.import_presets(bundle)
    before = {path: path.read_bytes() for path in own.rglob("*") if path.is_file()}
    with pytest.raises(PresetProblem, match='you have a preset called "loft" already'):
        usecases.import_presets(bundle)
    with pytest.raises(PresetProblem, match="comes with Playworn"):
        usecases.import_presets(bundle, "fresh")
    assert {path: path.read_bytes() for path in own.rglob("*") if path.is_file()} == before
    preset, _, textures, _ = usecases.import_presets(bundle, "loft-2")
    assert preset.name == "loft-2"
    assert [path.name for path in (own / "bundles").iterdir()] == [textures.parent.name], "the same pictures are shared"


def test_hostile_bundles_leave_nothing_behind(own, tmp_path):
    library.save_preset(library.find_preset("attic"), "mine")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    sent = tmp_path / "theirs.zip"
    for make in test_bundle.HOSTILE.values():
        sent.write_bytes(make())
        with pytest.raises(PlaywornError, match=r"theirs\.zip"):
            usecases.import_presets(sent)
        sent.unlink()
        assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_bundle_that_cannot_be_written_whole_is_not_there_at_all(own, bundle, monkeypatch):
    def full(*_):
        raise OSError(28, os.strerror(28))

    for step in ("fsync", "rename", "link"):
        with monkeypatch.context() as broken:
            broken.setattr(os, step, full)
            if step == "link":
                broken.setattr(os, "replace", full)
            with pytest.raises(FileProblem, match="No space left on device"):
                usecases.import_presets(bundle)
        assert not own.exists() or [path for path in files(own) if not path.startswith(".")] == []
