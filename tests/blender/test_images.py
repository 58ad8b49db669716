"""Pictures for the wear: from the user's folder, or drawn."""

from pathlib import Path

import bpy
import numpy as np
import pytest
from PIL import Image

from addon import compat
from addon.core import png
from addon.core.errors import TextureProblem
from addon.core.preset import Scratches, Smudges, Wear
from addon.nodes.attach import attach, detach
from addon.scene import images

WEAR = Wear(0.2, Scratches(0.5, 40.0, 3.0), Smudges(0.6, 60.0))


@pytest.fixture
def folder(tmp_path):
    """A folder with light scratches on dark ground in 16 bits, and finger smudges in an 8-bit JPEG."""
    made = tmp_path / "my textures"
    made.mkdir()
    grey = np.full((32, 64), 0.25)
    grey[:, 5] = 1.0
    (made / "Scratch_fine.png").write_bytes(png.encode(grey))
    Image.fromarray(np.tile(np.arange(0, 256, 8, dtype=np.uint8), (32, 1))).save(made / "finger smudge.jpg")
    (made / "notes.txt").write_text("not a picture")
    return made


def test_the_folder_s_pictures_are_data_at_full_depth(folder):
    found = images.find(folder)
    assert (found.scratches.name, found.smudges.name) == ("Scratch_fine.png", "finger smudge.jpg")
    assert found.scratches.colorspace_settings.is_data
    assert found.smudges.colorspace_settings.is_data
    assert found.scratches.is_float
    assert found.scratch_levels.clean == pytest.approx(0.25, abs=1e-4)
    assert found.scratch_levels.marked == pytest.approx(1.0, abs=1e-4)


def test_a_kind_the_folder_lacks_is_drawn(folder):
    (folder / "finger smudge.jpg").unlink()
    found = images.find(folder)
    assert found.scratches.name == "Scratch_fine.png"
    assert (found.smudges.name, found.dust.name) == ("Playworn smudges", "Playworn dust")


def test_without_a_folder_all_are_drawn_once_and_packed():
    first, second = images.find(None), images.find(None)
    assert first == second
    assert len(bpy.data.images) == 3
    for image in (first.scratches, first.smudges, first.dust):
        assert image.packed_file
        assert image.is_float
        assert image.colorspace_settings.is_data
        assert not Path(bpy.path.abspath(image.filepath)).exists()


def test_drawn_pictures_survive_saving_and_loading(tmp_path):
    found = images.find(None)
    for image in (found.scratches, found.smudges, found.dust):
        image.use_fake_user = True
    before = np.array(found.scratches.pixels[:4000])
    path = str(tmp_path / "build.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    again = images.find(None)
    assert len(bpy.data.images) == 3
    assert np.array_equal(before, np.array(again.scratches.pixels[:4000]))


def test_a_picture_is_not_loaded_twice(folder):
    first, second = images.find(folder), images.find(folder)
    assert first == second
    assert len(bpy.data.images) == 3  # and the dust, which the folder lacks


def test_a_picture_the_artist_uses_as_colour_is_not_changed(folder):
    theirs = bpy.data.images.load(str(folder / "Scratch_fine.png"))
    colour = theirs.colorspace_settings.name
    assert images.find(folder).scratches != theirs
    assert theirs.colorspace_settings.name == colour


def test_a_picture_that_is_there_as_data_is_used_and_stays(folder):
    theirs = bpy.data.images.load(str(folder / "Scratch_fine.png"))
    theirs.colorspace_settings.name = "Non-Color"
    found = images.find(folder)
    assert found.scratches == theirs
    material = bpy.data.materials.new("plastic")
    compat.node_tree(material)
    attach([material], WEAR, found, 0.001)
    detach([material])
    assert [image.name for image in bpy.data.images] == ["Scratch_fine.png"]


def test_the_path_is_relative_to_a_saved_file(folder, tmp_path):
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "build.blend"))
    found = images.find(folder)
    assert found.scratches.filepath == "//my textures/Scratch_fine.png"
    assert images.find(folder).scratches == found.scratches


def test_a_folder_that_is_missing_or_holds_no_picture_is_a_mistake_in_one_sentence(tmp_path):
    with pytest.raises(TextureProblem, match="does not exist"):
        images.find(tmp_path / "nowhere")
    with pytest.raises(TextureProblem, match="holds no"):
        images.find(tmp_path)
    with pytest.raises(TextureProblem, match="holds no"):
        images.survey(tmp_path)


def test_a_broken_picture_is_named_and_leaves_nothing_behind(tmp_path):
    (tmp_path / "scratches.png").write_bytes(b"no picture at all")
    with pytest.raises(TextureProblem, match=r"scratches\.png"):
        images.find(tmp_path)
    assert not bpy.data.images


def test_the_survey_measures_each_picture_and_leaves_none_behind(folder):
    (folder / "zebra.png").write_bytes(b"broken")
    smudge, scratch, broken = sorted(images.survey(folder), key=lambda facts: facts.file.lower())[:3]
    assert (smudge.width_px, smudge.height_px, smudge.bits, smudge.kind) == (32, 32, 8, "smudges")
    assert "edges" in smudge.warning
    assert (scratch.file, scratch.width_px, scratch.height_px, scratch.bits) == ("Scratch_fine.png", 64, 32, 16)
    assert (scratch.kind, scratch.warning) == ("scratches", "")
    assert (broken.kind, broken.warning) == ("other", "cannot be read")
    assert not bpy.data.images
