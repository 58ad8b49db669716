"""Cuts between shots on the timeline under motion blur, rendered: the last frame before one and the first after it."""

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from tests.blender import scenes
from tests.blender.scenes import PRESET
from tests.render.test_without_extension import pixels

SEED = usecases.Dials(seed=7)
SHOTS = (usecases.OnFrame("loose", 1, usecases.Dials(seed=7, looseness=2.0)), usecases.OnFrame("other hands", 11, SEED))
# position of the shutter, frames that it is open for, remapping of time (old, new), frames rendered about the cut
SHUTTERS = (
    ("CENTER", 0.5, (100, 100), (10, 11)),
    ("CENTER", 0.98, (100, 100), (10, 11)),
    ("START", 0.98, (100, 100), (10, 11)),
    ("END", 0.75, (100, 100), (10, 11)),
    ("START", 0.5, (100, 200), (21, 22)),
)


@pytest.fixture
def wall(extension) -> bpy.types.Collection:
    """A wall near the camera that glows by where each of its points is: no noise but that of the shutter."""
    build, scene = scenes.wall(), bpy.context.scene
    tree = compat.node_tree(bpy.data.materials["red"])
    glow, place = tree.nodes.new("ShaderNodeEmission"), tree.nodes.new("ShaderNodeNewGeometry")
    tree.links.new(place.outputs["Position"], glow.inputs["Color"])
    glow.inputs["Strength"].default_value = 1000.0
    tree.links.new(glow.outputs[0], tree.nodes["Material Output"].inputs["Surface"])
    scene.camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    scene.collection.objects.link(scene.camera)
    scene.camera.data.clip_start = 0.001
    scene.camera.location, scene.camera.rotation_euler = (0.03, -0.02, 0.02), (1.4, 0.0, 0.1)
    render = scene.render
    render.engine, render.resolution_x, render.resolution_y, render.resolution_percentage = "CYCLES", 48, 48, 100
    render.threads_mode, render.threads, render.use_motion_blur = "FIXED", 2, True
    scene.cycles.device, scene.cycles.samples = "CPU", 4
    scene.cycles.use_denoising = scene.cycles.use_adaptive_sampling = scene.cycles.use_animated_seed = False
    compat.set_file_format(render.image_settings, "OPEN_EXR")
    render.image_settings.color_depth = "32"
    return build


def test_a_cut_renders_as_its_two_shots_alone_do_whatever_the_shutter(wall, tmp_path):
    scene = bpy.context.scene

    def rendered(frame: int) -> np.ndarray:
        scene.frame_set(frame)
        scene.render.filepath = str(tmp_path / "picture.exr")
        bpy.ops.render.render(write_still=True)
        return pixels(tmp_path / "picture.exr")

    alone = []
    for shot in SHOTS:
        usecases.apply(wall, PRESET, shot.dials)
        alone.append(rendered(1))
    assert (np.abs(alone[1] - alone[0]).max(axis=-1) > 1e-4).mean() > 0.5
    for position, length, remapped, frames in SHUTTERS:
        render = scene.render
        render.motion_blur_position, render.motion_blur_shutter = position, length
        render.frame_map_old, render.frame_map_new = remapped
        usecases.on_timeline(wall, SHOTS)
        assert usecases.blur_at_cuts(wall, scene) == ""
        for frame, shot in zip(frames, alone, strict=True):
            assert np.abs(rendered(frame) - shot).max() == 0.0, (position, length, frame)
    render.motion_blur_position = "END"  # keys for another shutter: the comparison can fail, and it is told
    assert "put them on the timeline again" in usecases.blur_at_cuts(wall, scene)
    assert np.abs(rendered(frames[0]) - alone[0]).max() + np.abs(rendered(frames[1]) - alone[1]).max() > 1e-3
    render.motion_blur_shutter = 1.0
    assert "let Motion Blur have a shutter of 0.98 at most" in usecases.blur_at_cuts(wall, scene)
