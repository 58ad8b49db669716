"""The node trees that a material is made of."""

from collections.abc import Iterator

import bpy

from . import builder


def trees(material: bpy.types.Material) -> Iterator[bpy.types.NodeTree]:
    """The material's tree and every group nested in it, each once, ours left out."""
    waiting, seen = [material.node_tree], set()
    while waiting:
        tree = waiting.pop()
        if tree is None or tree in seen or builder.stamp(tree):
            continue
        seen.add(tree)
        yield tree
        waiting += [getattr(node, "node_tree", None) for node in tree.nodes]
