"""Pins: bricks that the artist wants left where the export put them. They are the artist's own and survive Clear."""

from collections.abc import Iterable

import bpy

from ... import raw

PINNED = "playworn_pinned"  # raw property on a brick
REASON = "is pinned"  # why it is left where it is


def is_pinned(thing: bpy.types.Object) -> bool:
    return bool(thing.get(PINNED))


def pin(things: Iterable[bpy.types.Object]) -> int:
    """Pins bricks; returns how many were not pinned before."""
    new = [thing for thing in things if thing.is_editable and not is_pinned(thing)]
    for thing in new:
        raw.put(thing, PINNED, True)
    return len(new)


def unpin(things: Iterable[bpy.types.Object]) -> int:
    """Takes the pins off; returns how many bricks had one."""
    old = [thing for thing in things if thing.is_editable and is_pinned(thing)]
    for thing in old:
        raw.drop(thing, PINNED)
    return len(old)
