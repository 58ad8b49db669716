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
_ROUNDED, _AS_IT_WAS = _SLACK, 1e-5  # the same: as a rounded one is smaller than the one in whose place it is; rounding


def grown(things: list[bpy.types.Object], was: np.ndarray) -> np.ndarray:
    """Which things (n,) show a mesh with pieces out of the box (n, 6) that it had, which others of its pieces fill."""
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
            found[larger[(was[larger] == box).all(axis=1)]] = _is_grown(mesh, points, box)
    return found


def _is_grown(mesh: bpy.types.Mesh, points: np.ndarray, box: np.ndarray) -> bool:
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
    alike = _ROUNDED if originals.SHRINK in mesh else _AS_IT_WAS  # what something is joined to keeps its points
    return bool(off <= alike * (high - low).max())
