"""What tests of the commands share: a folder of the user's own, a build in it, and a command run there."""

from pathlib import Path

import bpy
import pytest

from addon import cli, usecases
from addon.scene import files
from addon.scene.presets import library
from tests.blender import scenes


@pytest.fixture(autouse=True)
def somewhere(extension, tmp_path, monkeypatch) -> Path:
    """A folder of the user's own, with the user's own presets in it too."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(folder / "presets"))
    return folder


@pytest.fixture
def build(somewhere) -> Path:
    """A wall of 17 bricks in a .blend."""
    scenes.wall()
    usecases.save(somewhere / "wall.blend")
    return Path("wall.blend")


@pytest.fixture
def export(somewhere) -> Path:
    """The same wall as a glTF file, written by Blender."""
    files.new()
    scenes.wall()
    bpy.ops.export_scene.gltf(filepath=str(somewhere / "wall.glb"))
    return Path("wall.glb")


@pytest.fixture
def run(capfd):
    """Runs one command: exit code, standard output, standard error."""

    def typed(*words) -> tuple[int, str, str]:
        capfd.readouterr()
        code = cli.main([str(word) for word in words])
        told = capfd.readouterr()
        return code, told.out, told.err

    return typed
