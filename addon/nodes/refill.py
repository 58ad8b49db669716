"""Groups that all wear of a file asks, filled anew in their place when what they tell of changes."""

from collections.abc import Callable
from functools import partial
from typing import TypeVar

import bpy

from .. import raw
from ..transaction import keep
from . import seals
from .builder import stamp

Told = TypeVar("Told")
Tree = bpy.types.NodeTree


def lay(kind: str, told: Callable[[Tree], Told], fill: Callable[[Tree, Told], None], wanted: Told) -> None:
    """Lets all groups of a kind tell of this; the wear is not put in anew. `told` reads what one tells of."""
    for tree in bpy.data.node_groups:
        if stamp(tree) == kind and not tree.library and (was := told(tree)) != wanted:
            keep(lambda tree=tree, was=was: partial(fill, tree, was))
            raw.drop(tree, seals.SEAL)
            fill(tree, wanted)
    seals.put_on_new()
