"""The pictures that the wear of some materials is made of."""

from collections.abc import Iterable

import bpy

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
            elif (kind := builder.stamp(tree)) and isinstance(node, bpy.types.ShaderNodeTexImage) and node.image:
                found[node.image] = kind.split()[-1]  # it ends in the layer, whatever way its group is made
    return found
