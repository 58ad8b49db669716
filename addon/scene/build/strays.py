"""Bricks that have left the build they were worn with: moved or duplicated out, made real, or their collection gone."""

import bpy
import numpy as np

from ..columns import Columns
from ..fit import deltas, rest
from ..wear import originals, slots, stamps, twins
from . import state

_ON_BRICK = (stamps.SHARE, twins.ROUNDED, slots.TURNED)


def rows(build: bpy.types.Collection, columns: Columns) -> tuple[np.ndarray, np.ndarray]:
    """Of all objects of the file those that stand in a build and may be changed, with its strays; and these alone.

    A brick that stands in another build is that one's. Those of no build are anybody's, once there is no other.
    """
    inside = set(Columns(build).objects)
    without = without_build(columns)
    if any(other != build for other in state.marked()):
        without = without[rest.read(columns).build[without] == state.number(build)]
    left = [row for row in without.tolist() if columns.objects[row] not in inside]
    stand = [row for row, thing in enumerate(columns.objects) if thing in inside and thing.is_editable]
    return np.array(sorted((*stand, *left)), dtype=np.intp), np.array(left, dtype=np.intp)


def without_build(columns: Columns) -> np.ndarray:
    """Of all objects of the file those that are worn and stand in no build."""
    housed = {thing for build in state.marked() for thing in Columns(build).objects}
    moved = deltas.carrying(columns) | (rest.read(columns).build > 0)
    worn = [
        row
        for row, thing in enumerate(columns.objects)
        if thing not in housed and thing.is_editable and (moved[row] or _is_worn(thing))
    ]
    return np.array(worn, dtype=np.intp)


def _is_worn(thing: bpy.types.Object) -> bool:
    return any(name in thing for name in _ON_BRICK) or originals.original(thing.data) != thing.data
