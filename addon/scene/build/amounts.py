"""Amounts of single bricks: how much of what use brings each has. They are the artist's own and survive Clear."""

from collections.abc import Iterable
from math import isfinite

import bpy

from ... import raw
from ...core.wear.names import OWN_MORE

USUAL = 1.0  # as much as the build has
_PLACES = 6  # of an amount that are told


def of(thing: bpy.types.Object) -> float:
    """0 for a new brick; where an artist wrote anything else there, the usual amount."""
    more = thing.get(OWN_MORE, 0.0)
    return round(USUAL + max(more, -USUAL), _PLACES) if isinstance(more, int | float) and isfinite(more) else USUAL


def give(things: Iterable[bpy.types.Object], amount: float) -> int:
    """Gives bricks an amount; returns how many had another."""
    other = [thing for thing in things if thing.is_editable and of(thing) != amount]
    for thing in other:
        if amount == USUAL:
            raw.drop(thing, OWN_MORE)
        else:
            raw.put(thing, OWN_MORE, amount - USUAL)
        thing.update_tag()
    return len(other)


def given(things: list[bpy.types.Object]) -> list[float]:
    """The amounts of those bricks that have one of their own."""
    if not any(raw.carried(things, OWN_MORE)):
        return []
    return [amount for amount in map(of, things) if amount != USUAL]
