"""STL: a heap of triangles, numbers without a unit."""

from pathlib import Path

import bpy
import numpy as np

from ...core import stl
from .. import forms


def load(path: Path) -> None:
    """Reads the file into the scene as one mesh, with faces that Blender drops because they lie on each other."""
    corners = stl.corners(path.read_bytes())
    points, order = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    triangles = order.reshape(-1, 3)
    real = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)  # three corners in three places
    mesh = bpy.data.meshes.new(path.stem)
    mesh.from_pydata(points, [], triangles[real].tolist())
    forms.shade(mesh)
    bpy.context.scene.collection.objects.link(bpy.data.objects.new(path.stem, mesh))
