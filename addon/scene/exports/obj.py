"""Wavefront OBJ, numbers without a unit."""

from collections.abc import Iterator
from pathlib import Path

import bpy

from ...blender import inputs_of
from ...core.exports import mtl, obj
from ...core.exports.stated import Stated
from ..attempt import attempt
from ..build import looks


def load(path: Path) -> None:
    """Reads the file into the scene; ValueError where it is cut, or faces lead to what it does not have."""
    data = path.read_bytes()
    obj.check_end(data)
    with attempt() as made:
        # Checking would drop faces that lie on each other, which is where bricks touch.
        bpy.ops.wm.obj_import(filepath=str(path), forward_axis="Y", up_axis="Z", validate_meshes=False)
        taken = sum(len(mesh.polygons) for mesh in made.meshes())
        _see_through(made.materials(), path)
    if taken < obj.face_count(data) and (astray := obj.astray(data)):
        raise ValueError(f"{astray} of its faces lead to corners, normals or places on a picture that it does not have")


def doubt(path: Path) -> str:
    """A sentence where the file may be cut, "" where nothing speaks for that."""
    return obj.doubt(path.read_bytes())


def stated(path: Path) -> Stated:
    """What each material states, from the libraries beside the file; one that is missing states nothing."""
    found: dict[str, frozenset[str]] = {}
    for library in _libraries(path):
        found |= mtl.stated(library)
    return found


def _see_through(materials: list[bpy.types.Material], path: Path) -> None:
    """Gives materials the opacity that Blender did not read."""
    told: dict[str, float] = {}
    for library in _libraries(path):
        told |= mtl.by_transparency(library)
    for material in materials:
        for node in material.node_tree.nodes if material.node_tree and looks.bare(material.name) in told else ():
            if node.bl_idname == "ShaderNodeBsdfPrincipled":
                inputs_of(node)["Alpha"].default_value = told[looks.bare(material.name)]


def _libraries(path: Path) -> Iterator[bytes]:
    for name in mtl.libraries(path.read_bytes()):
        library = path.parent / name
        if library.is_file():
            yield library.read_bytes()
