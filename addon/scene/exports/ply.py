"""PLY: one mesh, numbers without a unit."""

from contextlib import suppress
from pathlib import Path

import bpy
import numpy as np

from ...blender import mesh_of, values_of
from ...core.exports import ply
from ..attempt import attempt
from . import forms

_HEAD = 65536  # bytes that a header may take


def load(path: Path) -> None:
    """Reads the file into the scene, with faces that Blender drops because they lie on each other, and the
    colours that it leaves out because faces have them and not vertices, or because they go by another name."""
    with path.open("rb") as file:
        head = file.read(_HEAD)
    ply.check(head)
    with suppress(KeyError, IndexError):  # a type or a line that is none: Blender's to judge
        ply.check_length(path.read_bytes())
    with attempt() as made:
        bpy.ops.wm.ply_import(filepath=str(path), forward_axis="Y", up_axis="Z")
        for obj in made.objects():
            with suppress(ValueError):  # an unusual file is taken as Blender reads it
                count = len(mesh_of(obj).polygons)
                if count and ply.face_count(head) > count:
                    faces = ply.faces(path.read_bytes())
                    if len(faces) > count:
                        forms.reface(obj, faces)
                if not len(mesh_of(obj).color_attributes):
                    _shade_points(mesh_of(obj), ply.shades_of_points(head))
                if not len(mesh_of(obj).color_attributes) and ply.are_shaded(head):
                    _shade_faces(mesh_of(obj), path)


def _shade_points(mesh: bpy.types.Mesh, shades: list[tuple[str, float]]) -> None:
    """Makes a colour of the numbers that Blender has read by the names of `shades`, of which so much each is all."""
    there = [(name, most) for name, most in shades if name in mesh.attributes]  # an opacity without a colour is not
    if len(there) < 3:
        return
    colours = np.ones((len(mesh.vertices), 4), np.float32)
    for column, (name, most) in enumerate(there):
        colours[:, column] = forms.read(mesh.attributes[name]) / most
        mesh.attributes.remove(mesh.attributes[name])
    shown = mesh.color_attributes.new("Col", "FLOAT_COLOR", "POINT")
    values_of(shown).foreach_set("color_srgb", colours.ravel())


def _shade_faces(mesh: bpy.types.Mesh, path: Path) -> None:
    """Gives the mesh the colours that faces have in the file."""
    shades = ply.shades(path.read_bytes())
    if shades is None or len(shades) != len(mesh.polygons):
        return
    colours = mesh.color_attributes.new("Col", "FLOAT_COLOR", "CORNER")
    counts = forms.got(mesh.polygons, "loop_total", 1, np.int32)
    values_of(colours).foreach_set("color_srgb", np.repeat(shades, counts, axis=0).astype(np.float32).ravel())


def is_whole(path: Path) -> bool:
    """Whether the file is binary, plain, and whole."""
    return ply.is_whole(path.read_bytes())
