"""What tests of the panel share: presets of their own, the panel's settings, and a wall chosen in it."""

from pathlib import Path

import bpy
import pytest

from addon.scene.presets import library
from addon.ui.presets import choices
from tests.blender.ui.walls import wall


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch) -> Path:
    """The user's presets of this test alone."""
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(tmp_path / "presets"))
    choices.forget()
    return tmp_path / "presets"


@pytest.fixture
def settings(extension):
    # What is searched belongs to the session: a new file does not clear it.
    bpy.context.window_manager.playworn.words = ""
    return bpy.context.scene.playworn


@pytest.fixture
def build(settings):
    settings.build = wall()
    return settings.build
