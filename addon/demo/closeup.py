"""A small build photographed from near by: the demo's stage around it, a camera close up, and a lamp that grazes."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import bpy
from mathutils import Vector

from .. import usecases
from ..blender import camera_of, context
from ..core.units import MM_PER_METRE
from . import export, run, stage
from .lighthouse import Placed

DIMMED = 0.45  # the stage's own light, so that the grazing lamp tells
STAGE_M = 0.4  # what the stage is built around
_BEHIND, _WINDOW_MM = 1.5, (70.0, 36.0)  # half as far again behind the aim as the camera is before it


@dataclass(frozen=True)
class Shot:
    """A camera in the mm of a small build, a lamp whose light grazes what it sees, and a window that it mirrors."""

    name: str
    bricks: tuple[Placed, ...]
    eye: tuple[float, float, float]
    aim: tuple[float, float, float]
    sharp: tuple[float, float, float]
    lens_mm: float
    f_stop: float
    lamp: tuple[float, float, float]
    lamp_mm: tuple[float, float]
    lamp_watts: float
    window_watts: float = 0.0  # of one behind the build, where level faces mirror it into the camera


def bring_in(shot: Shot) -> bpy.types.Collection:
    """The shot's build, in an empty file in place of the open one."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{shot.name}.glb"
        path.write_bytes(export.encode(shot.bricks))
        return usecases.open_build(path)


def staged(shot: Shot, build: bpy.types.Collection) -> bpy.types.Object:
    """Sets the stage around the build; returns the shot's camera."""
    scene = context().scene
    low, high = run.box(build)
    wide = Vector((max(STAGE_M - (high.x - low.x), 0.0) / 2, 0.0, 0.0))
    camera, _ = stage.dress(scene, low - wide, high + wide)
    for name in ("bulb", "fill"):
        bpy.data.objects.remove(bpy.data.objects[name])
    bpy.data.objects["backdrop"].scale.z = 3.0  # behind a view from below, too
    for light in bpy.data.lights:
        if isinstance(light, bpy.types.AreaLight | bpy.types.PointLight):
            light.energy *= DIMMED
    camera.location = _metres(shot.eye)
    _point(camera, shot.aim)
    data = camera_of(camera)
    data.lens, data.clip_start, data.dof.aperture_fstop = shot.lens_mm, 0.002, shot.f_stop
    forward = (_metres(shot.aim) - camera.location).normalized()
    data.dof.focus_distance = (_metres(shot.sharp) - camera.location).dot(forward)
    _lamp(scene, "grazing", shot.lamp_watts, shot.lamp_mm, shot.lamp, shot.aim)
    if shot.window_watts:
        _lamp(scene, "mirrored", shot.window_watts, _WINDOW_MM, _mirrored(shot), shot.aim)
    return camera


def _lamp(scene: bpy.types.Scene, name: str, watts: float, size_mm: tuple[float, float], at, aim) -> None:
    light = bpy.data.lights.new(name, "AREA")
    assert isinstance(light, bpy.types.AreaLight)
    light.shape, light.size, light.size_y = "RECTANGLE", *(each / MM_PER_METRE for each in size_mm)
    light.energy, light.color = watts, (1.0, 0.93, 0.84)
    lamp = bpy.data.objects.new(name, light)
    lamp.location = _metres(at)
    scene.collection.objects.link(lamp)
    _point(lamp, aim)


def _mirrored(shot: Shot) -> tuple[float, float, float]:
    """The place behind the aim that a level face there mirrors to the eye."""
    x, y, z = Vector(shot.aim) - Vector(shot.eye)
    place = Vector(shot.aim) + _BEHIND * Vector((x, y, -z))
    return place.x, place.y, place.z


def _metres(place: tuple[float, float, float]) -> Vector:
    return Vector(place) / MM_PER_METRE


def _point(thing: bpy.types.Object, at: tuple[float, float, float]) -> None:
    thing.rotation_euler = (_metres(at) - thing.location).to_track_quat("-Z", "Y").to_euler()
