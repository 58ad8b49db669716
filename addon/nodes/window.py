"""Whether the wear of a file knows of a window."""

from functools import partial

import bpy

from .. import raw
from ..transaction import keep
from . import seals
from .builder import stamp
from .groups import light


def lay(falls: bool) -> None:
    """Lets all wear of the file ask what of a window's light each brick gets, or not; it is not put in anew."""
    for tree in bpy.data.node_groups:
        if stamp(tree) == light.KIND and not tree.library and light.falls(tree) != falls:
            keep(lambda tree=tree: partial(light.fill, tree, not falls))
            raw.drop(tree, seals.SEAL)
            light.fill(tree, falls)
    seals.put_on_new()
