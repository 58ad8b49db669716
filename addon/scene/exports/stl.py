"""STL: a heap of triangles, numbers without a unit."""

from pathlib import Path

import bpy
import numpy as np

from ...blender import context
from ...core.exports import stl
from . import forms


def load(path: Path) -> None:
    """Reads the file into the scene as one mesh, with faces that Blender drops because they lie on each other."""
    points, triangles = stl.distinct(stl.corners(path.read_bytes()))
    real = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)  # three corners in three places
    mesh = forms.bare(path.stem, points, triangles[real])
    forms.shade(mesh)
    context().scene.collection.objects.link(bpy.data.objects.new(path.stem, mesh))
