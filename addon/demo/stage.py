"""A studio table for the build: two cameras, a seamless backdrop, a window and soft fill, and the render itself."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin
from pathlib import Path
from typing import Any, cast

import bpy
from mathutils import Vector

from .. import atomic, compat
from ..blender import choose, inputs_of


@dataclass(frozen=True)
class View:
    """Where a camera stands, told in shares of the build's bounding box so that it fits any unit."""

    name: str
    aim: tuple[float, float, float]  # 0..1 along each side of the box
    side: tuple[float, float, float]  # direction from the aim to the camera
    distance: float  # in box widths
    lens_mm: float
    f_stop: float
    focus: tuple[float, float, float]  # what is sharp, 0..1 along each side of the box


WIDE = View("wide", (0.52, 0.50, 0.43), (0.50, -1.0, 0.34), 4.9, 85.0, 5.6, (0.42, 0.30, 0.30))
CLOSE = View("close", (0.455, 0.33, 0.15), (0.42, -1.0, 0.42), 2.15, 100.0, 8.0, (0.47, 0.32, 0.16))
BULB = (0.25, 0.65, 0.807)  # the lamp room, 0..1 along each side of the box
BULB_RADIUS = 0.0088  # in box widths: has room above the lamp's bricks


def dress(scene: bpy.types.Scene, low: Vector, high: Vector) -> tuple[bpy.types.Object, bpy.types.Object]:
    """Sets the stage around a build that fills the box `low`..`high`; returns the wide and the close camera."""
    stage = bpy.data.collections.new("stage")
    scene.collection.children.link(stage)
    box = _Box(low, high)
    _backdrop(stage, box)
    _window(stage, box)
    _fill(stage, box)
    _bulb(stage, box)
    _room(scene)
    wide, close = camera(stage, (low, high), WIDE), camera(stage, (low, high), CLOSE)
    scene.camera = wide
    return wide, close


def render(scene: bpy.types.Scene, camera: bpy.types.Object, path: Path, width: int, height: int, samples: int) -> None:
    """Renders the scene through a camera into a PNG, with Cycles on the CPU and denoised."""
    by_cycles(scene, samples)
    photograph(scene, camera, path, width, height)


def by_cycles(scene: bpy.types.Scene, samples: int) -> None:
    """Sets a scene to Cycles on the CPU, denoised."""
    choose(scene.render, engine="CYCLES")
    scene.cycles.device = "CPU"
    scene.cycles.samples = samples
    scene.cycles.use_denoising = True
    scene.cycles.use_adaptive_sampling = False
    scene.cycles.max_bounces = scene.cycles.transmission_bounces = 12  # the lamp stands behind many walls
    scene.cycles.diffuse_bounces, scene.cycles.glossy_bounces = 3, 4
    scene.cycles.caustics_reflective = scene.cycles.caustics_refractive = False


def develop(scene: bpy.types.Scene) -> None:
    """Sets how light becomes a picture."""
    choose(scene.view_settings, view_transform="AgX", look="AgX - Medium High Contrast")


def photograph(scene: bpy.types.Scene, camera: bpy.types.Object, path: Path, width: int, height: int) -> None:
    """Takes a picture through a camera into a PNG with the scene's own render engine."""
    scene.camera = camera
    settings = scene.render
    settings.resolution_x, settings.resolution_y, settings.resolution_percentage = width, height, 100
    develop(scene)
    compat.set_file_format(settings.image_settings, "PNG")
    settings.image_settings.color_mode = "RGB"
    with atomic.written(path) as unfinished:
        settings.filepath = str(unfinished)
        bpy.ops.render.render(write_still=True, scene=scene.name)
    settings.filepath = "//"


@dataclass(frozen=True)
class _Box:
    low: Vector
    high: Vector

    @property
    def width(self) -> float:
        return max(self.high.x - self.low.x, self.high.y - self.low.y)

    def at(self, share: tuple[float, float, float]) -> Vector:
        return Vector([lo + s * (hi - lo) for lo, hi, s in zip(self.low[:], self.high[:], share, strict=True)])


def camera(stage: bpy.types.Collection, box: tuple[Vector, Vector], view: View) -> bpy.types.Object:
    """A camera on the stage that looks at a build within the box as the view says."""
    within = _Box(*box)
    data = bpy.data.cameras.new(view.name)
    data.lens, data.sensor_width = view.lens_mm, 36.0
    data.clip_start, data.clip_end = within.width * 0.01, within.width * 100
    camera = bpy.data.objects.new(view.name, data)
    stage.objects.link(camera)
    aim = within.at(view.aim)
    camera.location = aim + Vector(view.side).normalized() * view.distance * within.width
    _point(camera, aim)
    forward = (aim - camera.location).normalized()
    data.dof.use_dof = True
    data.dof.focus_distance = (within.at(view.focus) - camera.location).dot(forward)
    data.dof.aperture_fstop = view.f_stop
    return camera


def _point(thing: bpy.types.Object, at: Vector) -> None:
    thing.rotation_euler = (at - thing.location).to_track_quat("-Z", "Y").to_euler()


def _backdrop(stage: bpy.types.Collection, box: _Box) -> None:
    """A sheet that runs from the table up the wall in one bow."""
    w, floor, middle = box.width, box.low.z, box.at((0.5, 0.5, 0.0))
    radius, front, back, top, half = 1.5 * w, -8 * w, 2.0 * w, 7 * w, 12 * w
    bow = [(back + radius * sin(t), radius * (1 - cos(t))) for t in (pi / 2 * k / 24 for k in range(25))]
    line = [(front, 0.0), *bow, (back + radius, top)]
    points = [(middle.x + side * half, middle.y + y, floor + z) for y, z in line for side in (-1, 1)]
    faces = [(2 * k, 2 * k + 1, 2 * k + 3, 2 * k + 2) for k in range(len(line) - 1)]
    mesh = bpy.data.meshes.new("backdrop")
    mesh.from_pydata(points, [], faces)
    mesh.shade_smooth()
    mesh.materials.append(_paper(middle.y, middle.y + back + radius))
    stage.objects.link(bpy.data.objects.new("backdrop", mesh))


def _paper(near: float, far: float) -> bpy.types.Material:
    """Matt paper, warm under the build and deeper towards the back."""
    material = bpy.data.materials.new("backdrop")
    tree = compat.node_tree(material)
    tree.nodes.clear()
    place = tree.nodes.new("ShaderNodeNewGeometry")
    split = tree.nodes.new("ShaderNodeSeparateXYZ")
    share = tree.nodes.new("ShaderNodeMapRange")
    inputs_of(share)["From Min"].default_value, inputs_of(share)["From Max"].default_value = near, far
    ramp = tree.nodes.new("ShaderNodeValToRGB")
    shades = cast(Any, ramp).color_ramp  # told as missing, and its elements with it
    shades.interpolation = "EASE"
    shades.elements[0].color = (0.46, 0.43, 0.39, 1)
    shades.elements[1].color = (0.045, 0.10, 0.14, 1)
    paper = tree.nodes.new("ShaderNodeBsdfPrincipled")
    inputs_of(paper)["Roughness"].default_value = 0.6
    out = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(place.outputs["Position"], split.inputs["Vector"])
    tree.links.new(split.outputs["Y"], share.inputs["Value"])
    tree.links.new(share.outputs["Result"], ramp.inputs["Fac"])
    tree.links.new(ramp.outputs["Color"], paper.inputs["Base Color"])
    tree.links.new(paper.outputs["BSDF"], out.inputs["Surface"])
    return material


def _area(
    stage: bpy.types.Collection, name: str, at: Vector, aim: Vector, size: tuple[float, float], radiance: float, colour
) -> None:
    light = bpy.data.lights.new(name, "AREA")
    assert isinstance(light, bpy.types.AreaLight)
    light.shape, light.size, light.size_y = "RECTANGLE", *size
    light.color = colour
    light.energy = radiance * size[0] * size[1] * pi  # an area light of so many watts shows this radiance
    lamp = bpy.data.objects.new(name, light)
    lamp.location = at
    _point(lamp, aim)
    stage.objects.link(lamp)


def _window(stage: bpy.types.Collection, box: _Box) -> None:
    """Four bright panes high at the left, where tilted faces mirror them into the cameras."""
    w, aim = box.width, box.at((0.5, 0.5, 0.3))
    centre = aim + Vector((-1.75, -0.8, 2.15)) * w
    towards = (aim - centre).normalized()
    frame = towards.to_track_quat("-Z", "Y")
    across, upward = frame @ Vector((1, 0, 0)), frame @ Vector((0, 1, 0))
    pane = 0.62 * w
    for i in (-1, 1):
        for j in (-1, 1):
            at = centre + (across * i + upward * j) * pane * 0.56
            _area(stage, "window", at, at + towards, (pane, pane), 30.0, (1.0, 0.96, 0.90))


def _fill(stage: bpy.types.Collection, box: _Box) -> None:
    """A large soft card at the right, and a strip behind that level faces mirror and that parts build from backdrop."""
    w, aim = box.width, box.at((0.5, 0.5, 0.4))
    _area(stage, "fill", aim + Vector((2.6, -1.6, 1.2)) * w, aim, (2.4 * w, 2.0 * w), 1.3, (0.82, 0.90, 1.0))
    _area(stage, "strip", aim + Vector((-0.9, 2.1, 1.0)) * w, aim, (2.4 * w, 0.6 * w), 5.0, (0.90, 0.95, 1.0))


def _bulb(stage: bpy.types.Collection, box: _Box) -> None:
    """A small warm lamp in the free air behind the panes under the tower's roof."""
    light = bpy.data.lights.new("bulb", "POINT")
    assert isinstance(light, bpy.types.PointLight)
    light.shadow_soft_size = BULB_RADIUS * box.width
    light.color = (1.0, 0.78, 0.45)
    light.energy = 4 * pi**2 * light.shadow_soft_size**2 * 200.0  # its radiance, in the window's units
    bulb = bpy.data.objects.new("bulb", light)
    bulb.location = box.at(BULB)
    stage.objects.link(bulb)


def _room(scene: bpy.types.Scene) -> None:
    """Faint light from everywhere, so that no seam is pure black."""
    world = bpy.data.worlds.new("stage")
    scene.world = world
    background = compat.node_tree(world).nodes.get("Background")
    if background is None:
        tree = compat.node_tree(world)
        background = tree.nodes.new("ShaderNodeBackground")
        tree.links.new(background.outputs[0], tree.nodes.new("ShaderNodeOutputWorld").inputs[0])
    inputs_of(background)["Color"].default_value = (0.55, 0.62, 0.70, 1)
    inputs_of(background)["Strength"].default_value = 0.16
