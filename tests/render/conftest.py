"""What the renders share: a wall before a camera."""

import bpy
import pytest

from addon import compat
from tests.blender import scenes


@pytest.fixture
def set_up(extension) -> bpy.types.Collection:
    """A wall that fills the picture, a window of light, and renders that repeat: fixed seed, no denoising."""
    build = scenes.wall()
    shader = bpy.data.materials["red"].node_tree.nodes["Principled BSDF"]
    shader.inputs["Roughness"].default_value = 0.15
    scene = bpy.context.scene
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    camera.data.clip_start, camera.data.lens = 0.001, 45.0
    camera.location, camera.rotation_euler = (0.056, -0.06, 0.03), (1.4, 0.0, 0.1)
    window = bpy.data.objects.new("window", bpy.data.lights.new("window", "AREA"))
    window.data.energy, window.data.size = 0.2, 0.12
    window.location, window.rotation_euler = (0.05, -0.2, 0.06), (1.4, 0.0, 0.0)  # the wall mirrors it
    for thing in (camera, window):
        scene.collection.objects.link(thing)
    scene.camera = camera
    render = scene.render
    render.engine, render.resolution_x, render.resolution_y, render.resolution_percentage = "CYCLES", 64, 64, 100
    render.threads_mode, render.threads = "FIXED", 2
    scene.cycles.device, scene.cycles.samples, scene.cycles.seed = "CPU", 4, 1
    scene.cycles.use_denoising = scene.cycles.use_adaptive_sampling = scene.cycles.use_animated_seed = False
    compat.set_file_format(render.image_settings, "OPEN_EXR")
    render.image_settings.color_depth = "32"
    return build
