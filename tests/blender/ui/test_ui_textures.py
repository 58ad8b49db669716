"""Textures in the panel: listed, measured, told of, missing."""

from pathlib import Path
from types import SimpleNamespace

import bpy
import numpy as np
import pytest

from addon.core.pictures import png
from addon.nodes.pictures import pictures
from addon.ui import panels, told
from addon.ui.wear import textures as ui_textures
from tests.blender.ui.drawing import FakePanel, drawn
from tests.blender.ui.walls import deltas


def test_a_dial_that_cannot_act_says_why_in_the_panel(build, settings):
    bpy.ops.playworn.apply()
    before = deltas()
    settings.textures = "/nowhere/at/all"
    assert "does not exist" in " ".join(drawn(panels.BuildPanel))
    assert np.array_equal(deltas(), before)
    settings.textures = ""
    assert "does not exist" not in " ".join(drawn(panels.BuildPanel))


@pytest.fixture
def textures(tmp_path) -> Path:
    """A folder with a good picture of scratches and one that its name says nothing of."""
    folder = tmp_path / "mine"
    folder.mkdir()
    grey = np.ones((1024, 1024))
    grey[30::64] = grey[31::64] = grey[32::64] = 0.2
    for name in ("scratches.png", "04.png"):
        (folder / name).write_bytes(png.encode(grey))
    return folder


def test_the_textures_are_listed_as_soon_as_the_folder_is_chosen(build, settings, textures):
    settings.textures = str(textures)
    shown = drawn(panels.WearPanel)
    rows = ("scratches", "other", "playworn.texture_details", "playworn.use_texture")
    assert [word for word in shown if word in rows] == [
        "playworn.texture_details", "playworn.use_texture", "other",
        "playworn.texture_details", "playworn.use_texture", "scratches",
    ]  # fmt: skip
    good, nameless = (
        ui_textures.TextureDetails.description(bpy.context, SimpleNamespace(file=file))
        for file in ("scratches.png", "04.png")
    )
    assert "marks 3.0 px wide, 0.11" in good
    assert "choose it so to have it used" in nameless
    settings.textures = ""
    assert "playworn.texture_details" not in drawn(panels.WearPanel)


def test_a_folder_from_an_earlier_session_is_measured_on_request(build, settings, textures):
    settings.textures = str(textures)
    told.forget()
    assert "playworn.measure_textures" in drawn(panels.WearPanel)
    assert bpy.ops.playworn.measure_textures() == {"FINISHED"}
    assert "playworn.measure_textures" not in drawn(panels.WearPanel)
    settings.textures = ""
    with pytest.raises(RuntimeError, match="Choose a textures folder first"):
        bpy.ops.playworn.measure_textures()


def test_the_details_of_a_picture_can_be_kept_in_sight(build, settings, textures):
    settings.textures = str(textures)
    fake = FakePanel(ui_textures.TextureDetails)
    fake.file = "04.png"
    ui_textures.TextureDetails.draw(fake, bpy.context)
    assert "choose it so to have it used" in " ".join(fake.layout.drawn)
    assert bpy.ops.playworn.texture_details("EXEC_DEFAULT", file="04.png") == {"FINISHED"}


@pytest.mark.shared_out
def test_what_a_picture_is_for_is_chosen_in_its_row_and_kept_with_the_build(build, settings, textures):
    settings.textures = str(textures)
    bpy.ops.playworn.apply()
    assert used() == {"scratches.png": "scratches"}
    assert bpy.ops.playworn.use_texture(file="04.png", layer="dust") == {"FINISHED"}
    assert used() == {"scratches.png": "scratches", "04.png": "dust"}
    shown = " ".join(drawn(panels.WearPanel))
    assert "playworn.use_texture dust" in shown
    settings.build, settings.texture_uses = None, ""
    settings.build = build
    assert settings.texture_uses == '{"04.png": "dust"}'
    assert bpy.ops.playworn.use_texture(file="scratches.png", layer="other") == {"FINISHED"}
    assert used() == {"04.png": "dust"}
    for file in ("scratches.png", "04.png"):
        bpy.ops.playworn.use_texture(file=file, layer="name")
    assert used() == {"scratches.png": "scratches"}
    with pytest.raises(RuntimeError, match=r'no picture "gone\.png"'):
        bpy.ops.playworn.use_texture(file="gone.png", layer="dust")
    bpy.ops.playworn.use_texture(file="04.png", layer="dust")
    settings.textures = ""
    assert settings.texture_uses == ""
    assert used() == {}


def used():
    """The artist's pictures in our groups, each with the layer that shows it."""
    found = pictures(bpy.data.materials)
    return {Path(image.filepath).name: kind for image, kind in found.items() if "playworn_stand_in" not in image}


def test_a_folder_that_is_not_there_is_told_under_it_before_anything_is_applied(build, settings):
    settings.textures = "/nowhere/at/all"
    assert "does not exist" in " ".join(drawn(panels.WearPanel))


def test_a_picture_that_went_missing_is_named(build, settings, textures):
    settings.textures = str(textures)
    bpy.ops.playworn.apply()
    assert "missing" not in " ".join(drawn(panels.WearPanel))
    (textures / "scratches.png").unlink()
    assert "scratches.png is missing" in " ".join(drawn(panels.WearPanel))
    bpy.ops.playworn.apply()
    shown = drawn(panels.WearPanel)
    assert "missing" not in " ".join(shown), "a stand-in serves now"
    assert shown.count("playworn.texture_details") == shown.count("playworn.use_texture") == 1
