"""The pictures of marks that the wear of some materials is made of."""

from collections.abc import Iterable

import bpy

from ..core.wear.names import SWATCHES
from . import builder


def pictures(materials: Iterable[bpy.types.Material]) -> list[bpy.types.Image]:
    """Each picture in our groups, wherever these stand in the materials, once."""
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
            elif builder.stamp(tree) and isinstance(node, bpy.types.ShaderNodeTexImage) and node.image:
                found |= {} if SWATCHES in node.image else {node.image: None}
    return list(found)
