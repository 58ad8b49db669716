"""Re-rolls: how often an artist has drawn a brick's motion anew. They are the artist's own and survive Clear."""

from collections.abc import Iterable

import bpy
import numpy as np

from ... import raw

ROLL = "playworn_roll"  # raw property on a brick, a whole number; 0 or missing is the first draw


def read(things: list[bpy.types.Object]) -> np.ndarray | None:
    """The re-rolls (n,) of bricks, None where there are none."""
    if not any(raw.carried(things, ROLL)):
        return None
    return np.fromiter(map(_roll, things), dtype=np.int64, count=len(things))


def again(things: Iterable[bpy.types.Object]) -> int:
    """Draws bricks anew; returns how many."""
    editable = [thing for thing in things if thing.is_editable]
    for thing in editable:
        raw.put(thing, ROLL, _roll(thing) + 1)
    return len(editable)


def undo(things: Iterable[bpy.types.Object]) -> int:
    """Gives bricks their first draw back; returns how many had another."""
    rolled = [thing for thing in things if thing.is_editable and ROLL in thing]
    for thing in rolled:
        raw.drop(thing, ROLL)
    return len(rolled)


def _roll(thing: bpy.types.Object) -> int:
    value = thing.get(ROLL, 0)
    return value if isinstance(value, int) else 0  # an artist may write anything there
