"""Wavefront OBJ, numbers without a unit."""

from pathlib import Path

import bpy


def load(path: Path) -> None:
    """Reads the file into the scene."""
    # Checking would drop faces that lie on each other, which is where bricks touch.
    bpy.ops.wm.obj_import(filepath=str(path), forward_axis="Y", up_axis="Z", validate_meshes=False)
