"""STL: a heap of triangles, numbers without a unit."""

from pathlib import Path

import bpy
import numpy as np

from ...core import stl
from .. import forms


def load(path: Path) -> None:
    """Reads the file into the scene as one mesh, with faces that Blender drops because they lie on each other."""
    corners = stl.corners(path.read_bytes())
    points, number = _distinct(corners.reshape(-1, 3))
    triangles = number.reshape(-1, 3)
    real = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)  # three corners in three places
    mesh = bpy.data.meshes.new(path.stem)
    mesh.from_pydata(points, [], triangles[real].tolist())
    forms.shade(mesh)
    bpy.context.scene.collection.objects.link(bpy.data.objects.new(path.stem, mesh))


def _distinct(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The distinct ones of points (n, 3) and which one each is; numpy's unique takes several times as long for rows."""
    order = np.lexsort(points.T[::-1])
    ordered = points[order]
    fresh = np.ones(len(points), dtype=bool)
    fresh[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    number = np.empty(len(points), dtype=np.intp)
    number[order] = np.cumsum(fresh) - 1
    return ordered[fresh], number
