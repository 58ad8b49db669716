"""The places that the wear of a file knows of."""

from collections.abc import Sequence
from functools import partial

import bpy

from .. import raw
from ..core.wear.place import Place
from ..transaction import keep
from . import seals
from .builder import stamp
from .groups import places


def lay(spheres: Sequence[tuple[bpy.types.Object, Place]]) -> None:
    """Lets all wear of the file know of these places; it is not put in anew."""
    wanted = [(thing, place, thing.empty_display_size) for thing, place in spheres]
    for tree in bpy.data.node_groups:
        if stamp(tree) == places.KIND and not tree.library and (was := places.told(tree)) != wanted:
            keep(lambda tree=tree, was=was: partial(places.fill, tree, was))
            raw.drop(tree, seals.SEAL)
            places.fill(tree, wanted)
    seals.put_on_new()
