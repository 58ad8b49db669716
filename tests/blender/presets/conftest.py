"""What tests of presets share: a folder of the user's own, a studio, and what was sent out of them."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from addon.core.presets import preset as presets
from addon.scene.presets import library
from addon.usecases.presets import library as usecases
from tests.core.presets import test_bundle


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


@pytest.fixture
def everything(own, bundle, tmp_path) -> Path:
    """Two presets, one with a picture, one out of a bundle with its texture, and a third that is broken, in one zip."""
    usecases.import_presets(bundle)
    library.save_preset(library.find_preset("toy-box"), "chest")
    (own / "broken.json").write_text("{")
    usecases.export_presets(tmp_path / "all.zip")
    return tmp_path / "all.zip"


@pytest.fixture
def bundle(own, tmp_path) -> Path:
    """A preset of the user's own with a picture, two textures and a licence, sent away and then deleted here."""
    pictures = tmp_path / "pictures"
    pictures.mkdir()
    for name in ("scratches.png", "scratches_2.png", "wood.png"):
        (pictures / name).write_bytes(test_bundle.PICTURE)
    library.save_preset(library.find_preset("attic"), "loft")
    shutil.copy(library.shipped_folder() / "attic.png", own / "loft.png")
    usecases.bundle_preset("loft", tmp_path / "loft.zip", pictures, "Do as you like.")
    shutil.rmtree(own)
    return tmp_path / "loft.zip"
