"""A build with a look on it, and the export that it came by."""

from pathlib import Path

import bpy
import pytest

from addon import usecases
from addon.scene import files
from tests.blender import scenes
from tests.blender.build import versions


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("versions")


@pytest.fixture(scope="module")
def first(folder) -> Path:
    return versions.export(folder, "first", versions.BUILD)


@pytest.fixture
def room(folder, first) -> bpy.types.Collection:
    """The first version with a look on it, made once and opened for each test."""
    path = folder / "first.blend"
    if not path.exists():
        files.new()
        build = usecases.bring_in(first)
        usecases.apply(build, scenes.PRESET, usecases.Dials(seed=3))
        usecases.save(path)
    return usecases.open_build(path)
