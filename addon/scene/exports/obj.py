"""Wavefront OBJ, numbers without a unit."""

from pathlib import Path

import bpy

from ...core.exports import mtl, obj
from ...core.exports.stated import Stated
from ..attempt import attempt


def load(path: Path) -> None:
    """Reads the file into the scene; ValueError where it is cut, or faces lead to what it does not have."""
    data = path.read_bytes()
    obj.check_end(data)
    with attempt() as made:
        # Checking would drop faces that lie on each other, which is where bricks touch.
        bpy.ops.wm.obj_import(filepath=str(path), forward_axis="Y", up_axis="Z", validate_meshes=False)
        taken = sum(len(mesh.polygons) for mesh in made.meshes())
    if taken < obj.face_count(data) and (astray := obj.astray(data)):
        raise ValueError(f"{astray} of its faces lead to corners, normals or places on a picture that it does not have")


def doubt(path: Path) -> str:
    """A sentence where the file may be cut, "" where nothing speaks for that."""
    return obj.doubt(path.read_bytes())


def stated(path: Path) -> Stated:
    """What each material states, from the libraries beside the file; one that is missing states nothing."""
    found: dict[str, frozenset[str]] = {}
    for name in mtl.libraries(path.read_bytes()):
        library = path.parent / name
        if library.is_file():
            found |= mtl.stated(library.read_bytes())
    return found
