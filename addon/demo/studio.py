"""The demo's stage around any build, with a camera that has all of it in the frame: for a file without one."""

import bpy
from mathutils import Vector

from .. import usecases
from ..blender import camera_of, context
from . import run, stage

_ROOM = 1.05  # times as far as where the build just fits into the frame
_SIZE = (800, 600)  # of a frame: its shape counts, pictures are smaller


def set_up(build: bpy.types.Collection, scene: bpy.types.Scene, samples: int) -> None:
    """Lights a build and gives its scene a camera and a way to render it, in place of what it has: a file that is to be
    kept is saved before."""
    left_out = {each.object for each in usecases.inspect(build).left_out}
    low, high = run.box(build, left_out)
    camera, _ = stage.dress(scene, low, high)
    bpy.data.objects.remove(bpy.data.objects["bulb"])
    stage.by_cycles(scene, samples)
    stage.develop(scene)
    scene.render.resolution_x, scene.render.resolution_y = _SIZE
    camera_of(camera).dof.use_dof = False
    aim = 0.5 * (low + high)
    camera.rotation_euler = Vector(stage.WIDE.side).to_track_quat("Z", "Y").to_euler()
    context().view_layer.update()
    corners = [value for x in (low.x, high.x) for y in (low.y, high.y) for z in (low.z, high.z) for value in (x, y, z)]
    place, _ = camera.camera_fit_coords(context().evaluated_depsgraph_get(), corners)
    camera.location = aim + _ROOM * (place - aim)
