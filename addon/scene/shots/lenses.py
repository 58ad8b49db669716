"""Blender's cameras as the core's lenses, frame by frame; the scene stays on the frame and camera it was on."""

from collections.abc import Iterator
from contextlib import contextmanager

import bpy
import numpy as np

from ...blender import camera_of
from ...core.errors import ShotProblem
from ...core.shots.lens import Lens
from ...core.shots.shutter import Shutter
from ..build.build import Build, into_build


@contextmanager
def on_frames(scene: bpy.types.Scene) -> Iterator[None]:
    """Within it the scene may go to other frames; afterwards it is back."""
    frame, subframe, camera = scene.frame_current, scene.frame_subframe, scene.camera
    try:
        yield
    finally:
        if (scene.frame_current, scene.frame_subframe) != (frame, subframe):
            scene.frame_set(frame, subframe=subframe)
        if scene.camera != camera:  # markers switch it along
            scene.camera = camera


def lens(build: Build, scene: bpy.types.Scene, camera: bpy.types.Object) -> Lens:
    """The camera as it is on the current frame, looking at the build; ShotProblem for one without a flat picture."""
    seen = camera.evaluated_get(bpy.context.evaluated_depsgraph_get())
    data, render = camera_of(seen), scene.render
    if data.type not in ("PERSP", "ORTHO"):
        raise ShotProblem(
            f'the camera "{camera.name}" is neither perspective nor orthographic, so a pixel has no one size in its '
            "picture: measure through a perspective camera in its place"
        )
    mm, focus = build.mm_per_world_unit, _focus(seen)
    border = (0.0, 0.0, 1.0, 1.0)
    if render.use_border:
        border = (render.border_min_x, render.border_min_y, render.border_max_x, render.border_max_y)
    return Lens(
        view=_view(build, seen),
        width_px=render.resolution_x * render.resolution_percentage // 100,
        height_px=render.resolution_y * render.resolution_percentage // 100,
        focal_mm=data.lens,
        sensor_width_mm=data.sensor_width,
        sensor_height_mm=data.sensor_height,
        sensor_fit=data.sensor_fit,
        shift_x=data.shift_x,
        shift_y=data.shift_y,
        ortho_mm=data.ortho_scale * mm if data.type == "ORTHO" else None,
        pixel_aspect=render.pixel_aspect_y / render.pixel_aspect_x,
        near_mm=data.clip_start * mm,
        far_mm=data.clip_end * mm,
        border=border,
        focus_mm=focus * mm if data.dof.use_dof and focus > 0.0 else None,
        aperture_mm=_aperture(data) * mm,
    )


def shutter(scene: bpy.types.Scene) -> Shutter:
    """The shutter of what the scene renders."""
    render = scene.render
    length = render.motion_blur_shutter if render.use_motion_blur else 0.0
    return Shutter(render.motion_blur_position, length, render.frame_map_old / render.frame_map_new)


def is_still(build: Build, scene: bpy.types.Scene, camera: bpy.types.Object) -> bool:
    """Whether the camera shows the same on every frame, as far as the file tells without going to them."""
    chain, waiting = set(), [camera, build.root, camera_of(camera).dof.focus_object]
    while waiting:
        thing = waiting.pop()
        if thing is not None and thing not in chain:
            chain.add(thing)
            waiting.append(thing.parent)
    moved = any(thing.constraints or thing.rigid_body or thing.parent_type != "OBJECT" for thing in chain)
    return not moved and not any(block.animation_data for block in (*chain, camera.data, scene))


def _view(build: Build, camera: bpy.types.Object) -> tuple[tuple[float, float, float, float], ...]:
    """From the build's mm to camera space in mm, depth along what Blender calls -Z; a camera's own scale is void."""
    world = np.array(camera.matrix_world.normalized(), dtype=np.float64)
    into_camera = np.diag([1.0, 1.0, -1.0, 1.0]) @ np.linalg.inv(world) @ np.linalg.inv(into_build(build))
    into_camera[:3] *= build.mm_per_world_unit
    a, b, c = (tuple(row) for row in into_camera[:3].tolist())
    return a, b, c


def _aperture(data: bpy.types.Camera) -> float:
    """Diameter of the iris in world units, the way that it is widest.

    Cycles takes the focal length for metres, whatever a unit of the scene is, and a lens of a whole unit for an
    orthographic view: rendered, in 4.5, 5.0 and 5.2 alike (`bench/defocus.py`).
    """
    focal = 1.0 if data.type == "ORTHO" else 1e-3 * data.lens
    return focal / max(data.dof.aperture_fstop, 1e-5) * max(1.0, 1.0 / data.dof.aperture_ratio)


def _focus(camera: bpy.types.Object) -> float:
    """Distance in focus, in world units along the optical axis."""
    dof = camera_of(camera).dof
    aim = dof.focus_object
    if aim is None:
        return dof.focus_distance
    place = aim.matrix_world.translation
    if aim.pose and (bone := aim.pose.bones.get(dof.focus_subtarget)):
        place = aim.matrix_world @ bone.matrix.translation
    towards = place - camera.matrix_world.translation
    return abs(towards.dot(camera.matrix_world.normalized().to_3x3().col[2]))
