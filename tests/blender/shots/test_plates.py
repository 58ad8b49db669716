"""Plates as linear light, whatever the file."""

import bpy
import numpy as np
import pytest
from PIL import Image

from addon import compat
from addon.core.errors import FileProblem
from addon.core.wear import cielab
from addon.scene.shots import plates

GREYS = (0.0, 0.2, 0.5, 0.8, 1.0)  # sRGB, from left to right


def as_saved(path, form, depth):
    """A picture of vertical bands of grey, saved by Blender itself without any view transform."""
    image = bpy.data.images.new("bands", 40, 16, float_buffer=form == "OPEN_EXR")
    coded = np.repeat(np.repeat(np.array(GREYS, np.float32), 8)[None, :], 16, axis=0)
    values = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
    shown = values if form == "OPEN_EXR" else coded
    image.pixels.foreach_set(np.dstack((shown, shown, shown, np.ones_like(shown))).astype(np.float32).ravel())
    scene = bpy.context.scene
    scene.view_settings.view_transform = "Standard"
    compat.set_file_format(scene.render.image_settings, form)
    scene.render.image_settings.color_depth = depth
    image.save_render(str(path), scene=scene)
    bpy.data.images.remove(image)
    return values


def light(path):
    return cielab.luminance(plates.colours(path))


@pytest.mark.parametrize(
    ("name", "form", "depth"), [("a.png", "PNG", "8"), ("b.png", "PNG", "16"), ("c.exr", "OPEN_EXR", "32")]
)
def test_pictures_of_any_depth_hold_the_same_light(name, form, depth, tmp_path):
    expected = as_saved(tmp_path / name, form, depth)
    before = len(bpy.data.images)
    np.testing.assert_allclose(light(tmp_path / name), expected, atol=0.005)
    assert len(bpy.data.images) == before


def test_rows_run_upwards_and_colours_count_by_their_luminance(tmp_path):
    """Luminance of the sRGB primaries: 0.2126, 0.7152, 0.0722 (IEC 61966-2-1, Rec. 709)."""
    picture = np.zeros((3, 4, 3), np.uint8)
    for row in range(3):
        picture[row, :, row] = 255
    Image.fromarray(picture).save(tmp_path / "plate.png")
    np.testing.assert_allclose(light(tmp_path / "plate.png")[:, 0], (0.0722, 0.7152, 0.2126), atol=1e-6)


def test_a_movie_shows_its_first_frame(tmp_path):
    scene = bpy.context.scene
    if "media_type" in scene.render.image_settings.bl_rna.properties:
        scene.render.image_settings.media_type = "VIDEO"
    scene.render.image_settings.file_format, scene.render.ffmpeg.format = "FFMPEG", "MPEG4"
    scene.render.engine, scene.cycles.samples, scene.frame_end = "CYCLES", 1, 2
    scene.render.resolution_x = scene.render.resolution_y = 64
    scene.view_settings.view_transform = "Standard"
    scene.world = bpy.data.worlds.new("grey")
    background = next(n for n in compat.node_tree(scene.world).nodes if n.bl_idname == "ShaderNodeBackground")
    background.inputs["Color"].default_value = (0.25, 0.25, 0.25, 1.0)
    scene.camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    scene.collection.objects.link(scene.camera)
    scene.render.filepath = str(tmp_path / "plate.mp4")
    bpy.ops.render.render(animation=True)
    np.testing.assert_allclose(plates.colours(tmp_path / "plate.mp4"), 0.25, atol=0.02)


@pytest.mark.parametrize("content", [None, b"", b"no picture at all", b"\x89PNG\r\n\x1a\n"])
def test_what_is_no_plate_is_told_in_a_sentence(content, tmp_path):
    path = tmp_path / "plate.png"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FileProblem, match=r"plate\.png"):
        plates.colours(path)
    assert not bpy.data.images
