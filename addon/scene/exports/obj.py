"""Wavefront OBJ, numbers without a unit."""

from pathlib import Path

import bpy

from ...core.exports import mtl
from ...core.exports.stated import Stated


def load(path: Path) -> None:
    """Reads the file into the scene."""
    # Checking would drop faces that lie on each other, which is where bricks touch.
    bpy.ops.wm.obj_import(filepath=str(path), forward_axis="Y", up_axis="Z", validate_meshes=False)


def stated(path: Path) -> Stated:
    """What each material states, from the libraries beside the file; one that is missing states nothing."""
    found: dict[str, frozenset[str]] = {}
    for name in mtl.libraries(path.read_bytes()):
        library = path.parent / name
        if library.is_file():
            found |= mtl.stated(library.read_bytes())
    return found
