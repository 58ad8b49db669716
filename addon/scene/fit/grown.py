"""Bricks to which something was joined since they were moved, another worn brick say.

Blender put its points where they stood beneath the motion that the brick bore. What bore one of its own is no more, and
nobody could take that out: with the brick it would go back by another's motion, the farther the farther off it lies.
"""

import bpy
import numpy as np

from ...core.parts.shells import connected
from ..exports.forms import column, points_of
from ..wear import originals

_SLACK = 0.02  # of a mesh's size: what lies no farther out is of the brick
# The same, by which what something was joined to fills the room that it had: it keeps its points, and a rounded mesh is
# smaller than the one in whose place it is.
_AS_IT_WAS, _ROUNDED = 1e-5, 0.02


def grown(things: list[bpy.types.Object], was: np.ndarray, smaller: np.ndarray) -> np.ndarray:
    """Which things (n,) show a mesh with pieces out of the box (n, 6) that it had, which others of its pieces fill.

    `smaller` (n,) are those whose mesh may have been one that is rounded.
    """
    meshes, number = originals.originals(things)
    found = np.zeros(len(things), dtype=bool)
    showing = np.split(np.argsort(number, kind="stable"), np.cumsum(np.bincount(number, minlength=len(meshes)))[:-1])
    for mesh, here in zip(meshes, showing, strict=True):
        if not isinstance(mesh, bpy.types.Mesh) or not len(mesh.vertices):
            continue
        points = points_of(mesh)
        low, high = points.min(axis=0), points.max(axis=0)
        larger = here[((low < was[here, :3]) | (high > was[here, 3:])).any(axis=1)]
        for box in np.unique(was[larger], axis=0) if len(larger) else ():
            alike = larger[(was[larger] == box).all(axis=1)]
            found[alike] = _is_grown(mesh, points, box, _ROUNDED if smaller[alike].any() else _AS_IT_WAS)
    return found


def _is_grown(mesh: bpy.types.Mesh, points: np.ndarray, box: np.ndarray, alike: float) -> bool:
    low, high = box[:3], box[3:]
    slack = _SLACK * (high - low).max()
    out = ((points < low - slack) | (points > high + slack)).any(axis=1)
    if not out.any():
        return False
    edges = column(mesh, ".edge_verts", 2)
    piece = connected(len(points), edges[:, 0], edges[:, 1])
    within = points[~np.isin(piece, piece[out])]
    if not len(within):
        return False
    off = np.abs(np.concatenate([within.min(axis=0), within.max(axis=0)]) - box).max()
    return bool(off <= alike * (high - low).max())
