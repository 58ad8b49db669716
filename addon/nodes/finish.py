"""What a Principled node makes of a surface as it comes: its colour and its kind."""

import bpy

from ..core import kinds
from . import builder

_ANY = (0.8, 0.8, 0.8)  # stands for a colour that comes from nodes: an eye finds the least difference in pale greys


def colour(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> tuple[float, ...]:
    """The constant base colour, linear; a pale grey where nodes feed it."""
    return _constant(tree, shader, "Base Color", _ANY)[:3]


def kind(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> str:
    """One of `core.kinds`."""
    names = ("Transmission Weight", "Alpha", "Metallic", "Roughness")
    return kinds.kind(kinds.Shading(*(_constant(tree, shader, name, None) for name in names)))


def wires_into(tree: bpy.types.NodeTree, target: bpy.types.NodeSocket) -> list[bpy.types.NodeLink]:
    """The links that lead to a socket; no cheaper way reads them while the tree is being changed."""
    return [wire for wire in tree.links if wire.to_socket == target]


def _constant(tree: bpy.types.NodeTree, shader: bpy.types.Node, name: str, fed):
    """What the shader's socket is set to; `fed` where nodes feed it."""
    entry = builder.socket(shader.inputs, name)
    if any(not wire.is_muted for wire in wires_into(tree, entry)):
        return fed
    value = entry.default_value
    return tuple(value) if hasattr(value, "__len__") else value
