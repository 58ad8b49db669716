"""What the artist says of objects: counted in as bricks, or left out. It is the artist's own and survives Clear."""

from collections.abc import Iterable

import bpy
import numpy as np

from ... import raw
from ...core.build.belonging import IN, OUT, UNSAID

COUNTED = "playworn_brick"  # raw property on an object: 1 a brick, 0 none; where it is missing Playworn decides


def read(things: list[bpy.types.Object]) -> np.ndarray:
    """The artist's word (n,) on each of the things."""
    word = np.full(len(things), UNSAID, dtype=np.int8)
    said = np.fromiter(raw.carried(things, COUNTED), dtype=bool, count=len(things))
    for n in np.flatnonzero(said):
        word[n] = IN if things[n][COUNTED] else OUT
    return word


def count(things: Iterable[bpy.types.Object], is_brick: bool) -> int:
    """Says of things that they are bricks, or none; of how many this was not said before."""
    new = [thing for thing in things if thing.is_editable and thing.get(COUNTED) != int(is_brick)]
    for thing in new:
        raw.put(thing, COUNTED, int(is_brick))
    return len(new)
