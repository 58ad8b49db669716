"""A material for bricks that have none with nodes."""

import bpy

from .. import compat
from .builder import link, socket

_PALEST = 0.8  # no plastic gives back all light; Blender shows a brick without material in this grey too
_NAME = "Playworn plain"


def plain(instead_of: bpy.types.Material | None = None) -> bpy.types.Material:
    """A new Principled material in the viewport's colour, roughness and metallic of another.

    Without another it takes the viewport colour of each object that shows it, so that one serves bricks of all colours.
    """
    made = bpy.data.materials.new(_NAME if instead_of is None else f"{_NAME} {instead_of.name}")
    tree = compat.node_tree(made)
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    colour = socket(shader.inputs, "Base Color")
    if instead_of is None:
        _feed(tree, colour)
        return made
    colour.default_value = (*instead_of.diffuse_color[:3], 1.0)
    for name, value in (("Roughness", instead_of.roughness), ("Metallic", instead_of.metallic)):
        socket(shader.inputs, name).default_value = value
    made.diffuse_color, made.roughness, made.metallic = (
        instead_of.diffuse_color,
        instead_of.roughness,
        instead_of.metallic,
    )
    return made


def _feed(tree: bpy.types.NodeTree, colour: bpy.types.NodeSocket) -> None:
    given, palest = tree.nodes.new("ShaderNodeObjectInfo"), tree.nodes.new("ShaderNodeVectorMath")
    given.location, palest.location = (-600.0, 200.0), (-400.0, 200.0)
    palest.operation = "MINIMUM"
    socket(palest.inputs, "Vector_001").default_value = (_PALEST,) * 3
    link(tree, socket(given.outputs, "Color"), socket(palest.inputs, "Vector"))
    link(tree, socket(palest.outputs, "Vector"), colour)
