"""A frame of a shot whose wear grows is the frame of a build with just that wear, wherever it is rendered."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.shots.shot import Shot
from addon.scene.shots import task
from tests.blender.scenes import PRESET
from tests.render.layered import Layered
from tests.render.test_without_extension import pixels, rendered_without

DIALS = usecases.Dials(seed=7)
MIDDLE = 3  # of frames 1 to 5, from none to all of the wear


@pytest.fixture
def wall(set_up) -> bpy.types.Collection:
    scene = bpy.context.scene
    scene.render.use_motion_blur, scene.render.motion_blur_shutter, scene.render.motion_blur_position = (
        True,
        0.9,
        "START",
    )
    usecases.apply(set_up, PRESET, DIALS)
    usecases.add_shot(scene, Shot("sh010", "camera", 1, 5))
    usecases.add_shot(scene, Shot("sh020", "camera", 6, 9))
    usecases.remove_shot(scene, "scene")
    usecases.dial_shots(scene, {("sh010", "wear"): 0.0, ("sh020", "wear"): 0.25})
    usecases.grow_shot(scene, "sh010", 1.0)
    return set_up


def rendered(frame: int, path: Path) -> np.ndarray:
    scene = bpy.context.scene
    scene.frame_set(frame)
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True)
    return pixels(path)


def test_each_frame_renders_as_that_much_wear_alone_also_without_the_extension(wall, tmp_path):
    scene = bpy.context.scene
    usecases.shots_on_timeline(wall, scene)
    grown = {frame: rendered(frame, tmp_path / f"{frame}.exr") for frame in (1, MIDDLE, 5, 6)}
    scene.frame_set(MIDDLE)
    usecases.save(tmp_path / "grown.blend")
    usecases.off_timeline(wall)
    for frame, wear in ((1, 0.0), (MIDDLE, 0.5), (5, 1.0), (6, 0.25)):
        usecases.dial_wear(wall, PRESET, replace(DIALS, wear=wear))
        assert np.array_equal(rendered(1, tmp_path / "alone.exr"), grown[frame]), frame
    assert np.abs(grown[MIDDLE] - grown[1]).max() > 1e-3
    assert np.abs(grown[MIDDLE] - grown[5]).max() > 1e-3
    assert np.array_equal(rendered_without(tmp_path / "grown.blend", tmp_path / "without.exr"), grown[MIDDLE])


@pytest.mark.shared_out
def test_passes_are_those_of_the_frame_by_render_and_on_a_farm(wall, tmp_path):
    scene = bpy.context.scene
    shot = [each for each in usecases.list_shots(scene) if each.name == "sh010"]
    middle = [replace(shot[0], first=MIDDLE, last=MIDDLE)]
    usecases.render_shots(wall, scene, middle, tmp_path / "here")
    assert not usecases.shots_of(wall)
    usecases.put_passes_on(wall, scene)
    usecases.shots_on_timeline(wall, scene)
    usecases.save(tmp_path / "grown.blend")
    words = ["render", tmp_path / "grown.blend", tmp_path / "farm", "sh010", "camera", f"{MIDDLE}..{MIDDLE}"]
    for folder, dials in (("farm", ()), ("twice", ("wear=2.0",))):
        words[2] = tmp_path / folder
        subprocess.run([sys.executable, task.__file__, *map(str, words), *dials], check=True, timeout=300)
    here, farm, twice = (Layered(tmp_path / each / f"sh010.{MIDDLE:04d}.exr") for each in ("here", "farm", "twice"))
    usecases.off_timeline(wall)
    usecases.forget_shots(scene)
    for wear, found in ((0.5, (here, farm)), (1.0, (twice,))):
        usecases.dial_wear(wall, PRESET, replace(DIALS, wear=wear))
        alone = replace(middle[0], dials=type(middle[0].dials)())
        usecases.render_shots(wall, scene, [alone], tmp_path / f"{wear}")
        wanted = Layered(tmp_path / f"{wear}" / f"sh010.{MIDDLE:04d}.exr").value("playworn_scratches")
        assert wanted.max() > 0.0
        for each in found:
            assert np.array_equal(each.value("playworn_scratches"), wanted)
