"""The pictures of marks that the wear of some materials is made of."""

from collections.abc import Iterable
from typing import TypeGuard

import bpy

from ..core.wear.names import SWATCHES
from . import builder


def pictures(materials: Iterable[bpy.types.Material]) -> dict[bpy.types.Image, str]:
    """Each picture in our groups, wherever these stand in the materials, and the layer that it is for."""
    waiting = [material.node_tree for material in materials if material.node_tree]
    seen, found = set(), {}
    while waiting:
        tree = waiting.pop()
        if tree in seen:
            continue
        seen.add(tree)
        for node in tree.nodes:
            if isinstance(node, bpy.types.ShaderNodeGroup) and node.node_tree:
                waiting.append(node.node_tree)
            elif (kind := builder.stamp(tree)) and _shows_marks(node):
                found[node.image] = kind.split()[-1]  # it ends in the layer, whatever way its group is made
    return found


def _shows_marks(node: bpy.types.Node) -> TypeGuard[bpy.types.ShaderNodeTexImage]:
    return isinstance(node, bpy.types.ShaderNodeTexImage) and node.image is not None and SWATCHES not in node.image
