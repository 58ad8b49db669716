"""A material for bricks that have none with nodes."""

from typing import cast

import bpy

from .. import compat
from ..core.wear.kinds import MOULDED, OPAQUE
from .builder import link, socket

_PALEST = 0.8  # no plastic gives back all light; Blender shows a brick without material in this grey too
_NAME = "Playworn plain"


def plain(instead_of: bpy.types.Material | None = None) -> bpy.types.Material:
    """A new Principled material in the viewport's colour, roughness and metallic of another.

    Without another it is moulded plastic in the viewport colour of each object that shows it, so that one serves bricks
    of all colours.
    """
    made = bpy.data.materials.new(_NAME if instead_of is None else f"{_NAME} {instead_of.name}")
    tree = compat.node_tree(made)
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    if instead_of is None:
        _show_object_colour(tree, socket(shader.inputs, "Base Color"))
        socket(shader.inputs, "Roughness").default_value = made.roughness = MOULDED[OPAQUE].roughness
        socket(shader.inputs, "IOR").default_value = MOULDED[OPAQUE].index_of_refraction
        return made
    for name in ("diffuse_color", "roughness", "metallic"):
        setattr(made, name, getattr(instead_of, name))
    socket(shader.inputs, "Base Color").default_value = (*made.diffuse_color[:3], 1.0)
    socket(shader.inputs, "Roughness").default_value = made.roughness
    socket(shader.inputs, "Metallic").default_value = made.metallic
    return made


def _show_object_colour(tree: bpy.types.NodeTree, colour: bpy.types.NodeSocket) -> None:
    given, palest = tree.nodes.new("ShaderNodeObjectInfo"), tree.nodes.new("ShaderNodeVectorMath")
    given.location, palest.location = (-600.0, 200.0), (-400.0, 200.0)
    cast(bpy.types.ShaderNodeVectorMath, palest).operation = "MINIMUM"
    socket(palest.inputs, "Vector_001").default_value = (_PALEST,) * 3
    link(tree, socket(given.outputs, "Color"), socket(palest.inputs, "Vector"))
    link(tree, socket(palest.outputs, "Vector"), colour)
