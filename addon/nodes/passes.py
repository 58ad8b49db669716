"""How the shaders of a material share in the passes that its wear hands out."""

from collections.abc import Iterable

import bpy

from . import builder, insertion
from .groups.passes import SHARE
from .trees import trees


def share(materials: Iterable[bpy.types.Material]) -> None:
    """Gives each of our nodes in some materials its part: a render adds up what all of a material hand out, so that
    they come to the mean of its shaders. A node group in several materials goes by the one with the most of them."""
    most: dict[bpy.types.NodeTree, int] = {}
    for material in materials:
        count = _count(material.node_tree)
        for tree in trees(material):
            most[tree] = max(count, most.get(tree, 1))
    for tree, count in most.items():
        for node in filter(_hands_out, insertion.ours(tree)):
            builder.group_socket(node, "INPUT", SHARE).default_value = 1.0 / count


def hands_out(material: bpy.types.Material) -> bool:
    """Whether all wear in a material hands out passes; that of older versions does not."""
    return all(_hands_out(node) for tree in trees(material) for node in insertion.ours(tree))


def _hands_out(node: bpy.types.ShaderNodeGroup) -> bool:
    return builder.has_socket(node.node_tree, "INPUT", SHARE)


def _count(tree: bpy.types.NodeTree | None) -> int:
    """How many nodes of ours a tree comes to, those in the groups it uses counted as often as it does."""
    if tree is None or builder.stamp(tree):
        return 0
    within = (_count(getattr(node, "node_tree", None)) for node in tree.nodes)
    return len(insertion.ours(tree)) + sum(within)
