"""Where from a build something stands: the window, the wall."""

import bpy
import numpy as np

from ...core import units
from ...core.errors import BuildProblem
from ...scene.build.build import into_build, read

_ALL_BUT_OVER_IT = 1e-3  # of the way to it, in mm a mm


def towards(collection: bpy.types.Collection, thing: bpy.types.Object) -> float:
    """The angle (degrees, 0 to 360) at which an object, a lamp say, stands from the middle of a build: from the build's
    own x axis anticlockwise, seen from above. BuildProblem where it stands right over or under it."""
    build = read(collection)
    place = (into_build(build) @ np.array([*thing.matrix_world.translation, 1.0]))[:3]
    way = place - 0.5 * (build.bricks.origin.min(axis=0) + build.bricks.origin.max(axis=0))
    if np.hypot(way[0], way[1]) <= _ALL_BUT_OVER_IT * np.linalg.norm(way):
        raise BuildProblem(f'"{thing.name}" stands right over or under the build: choose one that stands beside it')
    return round(float(units.degrees(np.arctan2(way[1], way[0]))) % 360.0, 1) % 360.0
