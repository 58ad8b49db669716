"""The stage's cameras, measured through Blender's own projection."""

from itertools import product

import bpy
import pytest
from bpy_extras.object_utils import world_to_camera_view
from mathutils import Vector

from addon.demo import stage
from addon.demo.lighthouse import bricks
from addon.demo.parts import PARTS

MARGIN = 0.01  # of the frame


@pytest.mark.parametrize("mm_per_unit", [1.0, 1000.0])
def test_the_wide_camera_sees_every_brick_in_any_unit(mm_per_unit: float):
    corners = []
    for brick in bricks():
        part = PARTS[brick.part]
        half = Vector(part.size) / 2 if brick.quarter_turns % 2 == 0 else Vector(part.size[::-1]) / 2
        middle = Vector(brick.position)
        corners += [
            (middle + Vector((i * half.x, j * half.y, z))) / mm_per_unit
            for i, j, z in product((-1, 1), (-1, 1), (0.0, part.height))
        ]
    low, high = Vector(map(min, *corners)), Vector(map(max, *corners))
    scene = bpy.context.scene
    scene.render.resolution_x, scene.render.resolution_y = 960, 540
    wide, close = stage.dress(scene, low, high)
    bpy.context.view_layer.update()
    seen = [world_to_camera_view(scene, wide, corner) for corner in corners]
    for axis in (0, 1):
        assert min(point[axis] for point in seen) > MARGIN
        assert max(point[axis] for point in seen) < 1 - MARGIN
    tall = max(point.y for point in seen) - min(point.y for point in seen)
    assert tall > 0.85  # and fills the frame
    nearer = [(camera.location - (low + high) / 2).length for camera in (close, wide)]
    assert nearer[0] < 0.6 * nearer[1]
