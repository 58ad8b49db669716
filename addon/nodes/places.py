"""The places that the wear of a file knows of."""

import bpy

from .. import raw
from ..transaction import Back, keep
from . import seals
from .builder import stamp
from .groups import places


def lay(spheres: places.Spheres) -> None:
    """Lets all wear of the file know of these places; it is not put in anew."""
    wanted = [(thing, place, thing.empty_display_size) for thing, place in spheres]
    for tree in bpy.data.node_groups:
        if stamp(tree) == places.KIND and not tree.library and places.told(tree) != wanted:
            keep(lambda tree=tree: _before(tree))
            raw.drop(tree, seals.SEAL)
            places.fill(tree, spheres)
    seals.put_on_new()


def _before(tree: bpy.types.NodeTree) -> Back:
    were = [(thing, place) for thing, place, _ in places.told(tree)]
    return lambda: places.fill(tree, were)
