"""What an artist says of whole materials on the wear's nodes: their amounts, and which layers have a mask."""

from collections.abc import Iterable, Iterator

import bpy
import numpy as np

from ..blender import Socket
from ..core.wear.names import AMOUNT, MASK
from ..transaction import keep
from . import before, builder, hand, insertion
from .trees import trees


def of(material: bpy.types.Material) -> float | None:
    """How much of what use brings a material has: what is set on the first of our nodes; None where it is not worn."""
    return next((float(entry.default_value) for _, entry in _entries(material)), None)


def give(materials: Iterable[bpy.types.Material], amount: float) -> int:
    """Gives worn materials an amount; returns how many had another."""
    changed = 0
    for material in materials:
        other = [(tree, entry) for tree, entry in _entries(material) if entry.default_value != np.float32(amount)]
        for tree, entry in other:
            keep(lambda tree=tree, entry=entry: before.of_constants(tree, [entry]))
            entry.default_value = amount
        changed += bool(other)
    return changed


def given(material: bpy.types.Material) -> bool:
    """Whether a material has an amount of its own, set or linked."""
    return any(AMOUNT in each for each in _given(material))


def masked(material: bpy.types.Material) -> list[str]:
    """The layers that have a mask in a material."""
    found = {name for each in _given(material) for name in each}
    return [layer for layer, name in MASK.items() if name in found]


def _given(material: bpy.types.Material) -> Iterator[dict[str, hand.Given]]:
    for tree in trees(material):
        ours = insertion.ours(tree)
        yield from (hand.of_node(tree, node, ours) for node in ours)


def _entries(material: bpy.types.Material) -> Iterator[tuple[bpy.types.NodeTree, Socket]]:
    """The sockets of a material that take its amount."""
    for tree in trees(material):
        for node in insertion.ours(tree):
            if builder.has_socket(node.node_tree, "INPUT", AMOUNT):
                yield tree, builder.group_socket(node, "INPUT", AMOUNT)
