"""Keys in a saved file: played and rendered without the extension, read and cleared when it is opened again."""

import subprocess
import sys

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.scene.wear import stamps
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import APPLIED, SHOTS, artists_wall, everything
from tests.blender.test_usecases import differing
from tests.blender.wear.renders import look, render

pytestmark = pytest.mark.usefixtures("extension")  # the record of the bricks' own deltas is a registered property


ELSEWHERE = """
import os, sys
import bpy, numpy as np
bpy.ops.wm.open_mainfile(filepath=sys.argv[1])
scene = bpy.context.scene
for frame in (20, 60):
    scene.frame_set(frame)
    scene.render.filepath = f"{sys.argv[2]}/{frame}.exr"
    bpy.ops.render.render(write_still=True)
    parts = [np.array(getattr(o, n), np.float32) for o in sorted(bpy.data.objects, key=lambda o: o.name)
             for n in ("delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale")]
    np.save(f"{sys.argv[2]}/{frame}.npy", np.concatenate(parts))
sys.stdout.flush()
os._exit(0)
"""


def test_the_saved_file_plays_and_renders_the_same_without_the_extension(tmp_path):
    """Against renders of the same shots applied one by one, in this session."""
    build, scene = artists_wall(), bpy.context.scene
    look(0.3, (1.1, 0.0, 0.5), 1.0)
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN"))
    lamp.data.energy, lamp.rotation_euler = 3.0, (0.6, 0.3, 0.0)
    scene.collection.objects.link(lamp)
    wanted = {}
    for frame, shot in ((20, SHOTS[0]), (60, SHOTS[2])):
        usecases.apply(build, PRESET, shot.dials)
        stamps.set_layers(scene, shot.layers)
        scene.frame_set(frame)
        wanted[frame] = render(tmp_path, 96), everyones_deltas()
        stamps.set_layers(scene, {})
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    scene.frame_set(1)
    usecases.save(tmp_path / "shots.blend")
    run = subprocess.run(
        [sys.executable, "-c", ELSEWHERE, tmp_path / "shots.blend", tmp_path],
        capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    for frame, (picture, numbers) in wanted.items():
        assert np.array_equal(np.load(tmp_path / f"{frame}.npy"), numbers)
        assert np.array_equal(pixels(tmp_path / f"{frame}.exr"), picture)
    assert np.abs(wanted[20][0] - wanted[60][0]).max() > 0.05


def everyones_deltas() -> np.ndarray:
    names = ("delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale")
    things = sorted(bpy.data.objects, key=lambda thing: thing.name)
    return np.concatenate([np.array(getattr(thing, name), np.float32) for thing in things for name in names])


def pixels(path) -> np.ndarray:
    picture = bpy.data.images.load(str(path), check_existing=False)
    seen = np.empty(len(picture.pixels), np.float32)
    picture.pixels.foreach_get(seen)
    return seen.reshape(picture.size[1], picture.size[0], 4)


def test_reopened_it_is_read_dialled_and_cleared_as_before(tmp_path):
    build = artists_wall()
    usecases.save(tmp_path / "clean.blend")
    usecases.open_build(tmp_path / "clean.blend")
    clean = everything()
    build = bpy.data.collections["build"]
    usecases.apply(build, PRESET, APPLIED)
    usecases.on_timeline(build, SHOTS)
    bpy.context.scene.frame_set(60)
    usecases.save(tmp_path / "shots.blend")
    build = usecases.open_build(tmp_path / "shots.blend")
    usecases.clear(build)
    bpy.context.scene.frame_set(1)
    assert differing(clean, everything()) == []
