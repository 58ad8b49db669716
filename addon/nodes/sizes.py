"""The real sizes of marks on the wear's nodes, set without putting the wear in anew."""

from collections.abc import Iterable

import bpy
import numpy as np

from ..core.wear.layers import Wear, sizes
from ..transaction import keep
from . import before, builder, insertion
from .trees import trees


def give(materials: Iterable[bpy.types.Material], wear: Wear) -> None:
    """Gives every node of ours in some materials the sizes of the wear."""
    wanted = sizes(wear)
    for tree in dict.fromkeys(tree for material in materials for tree in trees(material) if tree.is_editable):
        entries = [
            (builder.group_socket(node, "INPUT", name), size)
            for node in insertion.ours(tree)
            for name, size in wanted.items()
            if builder.has_socket(node.node_tree, "INPUT", name)
        ]
        other = [(entry, size) for entry, size in entries if entry.default_value != np.float32(size)]
        if other:
            keep(lambda tree=tree, other=other: before.of_constants(tree, [entry for entry, _ in other]))
        for entry, size in other:
            entry.default_value = size
