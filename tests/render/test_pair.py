"""A build photographed twice: each picture is what the file renders by itself, and nothing of it is changed."""

import io

import bpy
import pytest
from PIL import Image

from addon import usecases
from addon.core.errors import FileProblem
from addon.core.pictures import jpeg
from addon.scene.shots import stills
from tests.blender.scenes import PRESET
from tests.blender.shots.test_shots import marker
from tests.blender.shots.walls import everything

DIALS = usecases.Dials(seed=7, rounding="geometry")


@pytest.fixture
def pictured(set_up) -> bpy.types.Collection:
    scene = bpy.context.scene
    scene.render.resolution_x, scene.render.resolution_y = 160, 120
    return set_up


def alone(tmp_path, frame: int = 1) -> bytes:
    """The frame as the open file renders it, without what tells of the time."""
    scene = bpy.context.scene
    with stills.as_pictures(scene, 80, 2, "JPEG"):
        stills.render(scene, scene.camera, frame, tmp_path / "alone.jpg")
    written = (tmp_path / "alone.jpg").read_bytes()
    bare = jpeg.bare(written)
    assert b"Blender" not in bare
    with Image.open(io.BytesIO(written)) as picture, Image.open(io.BytesIO(bare)) as same:  # by Pillow, every pixel
        assert picture.info.get("comment")
        assert picture.tobytes() == same.tobytes()
    return bare


def test_the_pair_is_the_build_without_and_with_its_look(pictured, tmp_path):
    scene = bpy.context.scene
    clean = alone(tmp_path)
    usecases.apply(pictured, PRESET, DIALS)
    before = everything()
    worn = alone(tmp_path)
    made = usecases.photograph_pair(pictured, scene, None, 80, 2)
    assert (made.wide, made.tall) == (80, 60)
    assert made.clean == clean
    assert made.worn == worn != clean
    assert [name for name, value in everything().items() if before[name] != value] == []
    assert usecases.recall(pictured).preset == PRESET


def test_a_shot_is_seen_through_its_camera_in_its_middle(pictured, tmp_path):
    scene = bpy.context.scene
    scene.frame_end = 20
    near = bpy.data.objects.new("near", scene.camera.data.copy())
    near.matrix_world, near.data.lens = scene.camera.matrix_world, 90.0
    scene.collection.objects.link(near)
    for name, frame, camera in (("wide", 1, scene.camera), ("near", 11, near)):
        marker(name, frame, camera)
    usecases.apply(pictured, PRESET, DIALS)
    wide, close = usecases.list_shots(scene)
    of_wide = usecases.photograph_pair(pictured, scene, wide, 80, 2)
    of_near = usecases.photograph_pair(pictured, scene, close, 80, 2)
    assert of_wide.clean != of_near.clean
    assert of_wide.worn == usecases.photograph_pair(pictured, scene, None, 80, 2).worn
    assert (scene.camera.name, scene.frame_current) == ("camera", 1)


def test_what_the_file_needs_and_is_gone_is_told(pictured, tmp_path):
    usecases.apply(pictured, PRESET, DIALS)
    image = bpy.data.images.new("gone", 4, 4)
    image.source, image.filepath, image.use_fake_user = "FILE", str(tmp_path / "gone.png"), True
    before = everything()
    with pytest.raises(FileProblem, match=r"gone\.png"):
        usecases.photograph_pair(pictured, bpy.context.scene, None, 80, 2)
    assert everything() == before
