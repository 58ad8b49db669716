"""An export of a workshop and its next version, which tests of what stays on the wear share."""

import pytest

from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions


@pytest.fixture(scope="module")
def textures(tmp_path_factory):
    return scenes.textures(tmp_path_factory.mktemp("textures"))


@pytest.fixture(scope="module")
def export(tmp_path_factory):
    folder = tmp_path_factory.mktemp("exports")
    build = workshop(24)
    return versions.export(folder, "first", build), versions.export(folder, "second", versions.recoloured(build, 0.2))
