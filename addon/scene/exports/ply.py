"""PLY: one mesh, numbers without a unit."""

from contextlib import suppress
from pathlib import Path

import bpy

from ...core import ply
from .. import forms
from ..attempt import attempt

_HEAD = 65536  # bytes that a header may take


def load(path: Path) -> None:
    """Reads the file into the scene, with faces that Blender drops because they lie on each other."""
    with path.open("rb") as file:
        ply.check(file.read(_HEAD))
    with attempt() as made:
        bpy.ops.wm.ply_import(filepath=str(path), forward_axis="Y", up_axis="Z")
        for obj in made.objects():
            with suppress(ValueError):  # an unusual file is taken as Blender reads it
                faces = ply.faces(path.read_bytes()) if len(obj.data.polygons) else []
                if len(faces) > len(obj.data.polygons):
                    forms.reface(obj, faces)
