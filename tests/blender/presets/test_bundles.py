"""Presets sent and taken in: a bundle of one, and all of the user's own in one zip."""

import os
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from addon.core.errors import BundleProblem, FileProblem, PlaywornError, PresetProblem
from addon.core.presets import bundle as bundles
from addon.core.report import TakenIn
from addon.scene.presets import library
from addon.usecases.presets import library as usecases
from tests.blender.presets.folders import files, held
from tests.core.presets import test_bundle, test_own


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


def test_a_bundle_brings_all_that_belongs_to_a_preset(own, bundle):
    preset, path, textures, _ = usecases.import_presets(bundle)
    assert (preset, path) == (replace(library.find_preset("attic"), name="loft"), own / "loft.json")
    sent = sorted(each.name for each in textures.iterdir())
    assert sent == ["scratches.png", "scratches_2.png"], "only what the wear uses is sent"
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
