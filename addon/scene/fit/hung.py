"""What an artist hung on bricks while these bore deltas of ours: it hangs on them as they stand without.

Blender keeps a thing where it is by the inverse of its new parent's matrix, our motion and clearance in it. Taken off
the parent they would come out on what hangs there, the larger the farther away it is.
"""

from functools import cached_property, partial

import bpy
import numpy as np
from mathutils import Matrix

from ...core import rigid
from ...transaction import keep
from ..columns import Columns
from ..turns import rotations
from . import deltas, rest, table
from .table import EULER, LOCATION, QUATERNION, SCALE

_SAME = 3e-6  # rounding: of a turn and of the farthest place
_MODES = {"QUATERNION": 0, "XYZ": 1, "XZY": 2, "YXZ": 3, "YZX": 4, "ZXY": 5, "ZYX": 6}
_AXIS_ANGLE = -1


def adopt() -> None:
    """Lets everything in the file that was hung on a brick of ours hang on it as it stands without; where the brick was
    moved since, as it stood without when ours was written."""
    parents = {above for thing in bpy.data.objects if (above := thing.parent) is not None}
    bearing = {above for above in parents if getattr(above, deltas.RECORD)[0] > 0.0}
    if not bearing:
        return
    bricks, found = _Bricks(bearing), []
    for thing in bpy.data.objects:
        above = thing.parent
        if above is None or above not in bearing or thing.parent_type != "OBJECT" or not thing.is_editable:
            continue
        if bricks.now.is_undone_by(thing, above):
            found.append((_depth(thing), thing, above, "bare"))
        elif bricks.then.is_undone_by(thing, above):
            found.append((_depth(thing), thing, above, "bare_then"))
    for _, thing, above, which in sorted(found, key=lambda each: each[0]):  # each hangs on what hangs anew
        _hang(thing, above, getattr(bricks, which))


def _depth(thing: bpy.types.Object) -> int:
    """How many are above a thing."""
    return 0 if thing.parent is None else 1 + _depth(thing.parent)


def _hang(thing: bpy.types.Object, above: bpy.types.Object, places: "_Places") -> None:
    if not places.is_undone_by(thing, above):
        keep(partial(_before, thing))
        thing.matrix_parent_inverse = Matrix(places.of(above).tolist()).inverted_safe()


class _Places:
    """Where things stand in the world, some of them by their rows of tables."""

    def __init__(self, row: dict[bpy.types.Object, int], mode: np.ndarray, own: np.ndarray, over: np.ndarray):
        self._row, self._mode, self._own, self._over = row, mode, own, over

    def of(self, thing: bpy.types.Object) -> np.ndarray:
        """(4, 4)"""
        row = self._row.get(thing)
        if row is None or self._mode[row] == _AXIS_ANGLE:
            return np.array(thing.matrix_world, dtype=np.float64)
        local = _matrix(int(self._mode[row]), self._own[row], self._over[row])
        if thing.parent is None:
            return local
        return self.of(thing.parent) @ np.array(thing.matrix_parent_inverse, dtype=np.float64) @ local

    def is_undone_by(self, thing: bpy.types.Object, above: bpy.types.Object) -> bool:
        """Whether the inverse that a thing keeps of what is above it is that of where this stands here."""
        place = self.of(above)
        left = place @ np.array(thing.matrix_parent_inverse, dtype=np.float64) - np.eye(4)
        far = np.abs(place[:3, 3]).max()
        return np.abs(left[:3, :3]).max() <= _SAME and np.abs(left[:3, 3]).max() <= _SAME * far


class _Bricks:
    """Bricks that bear ours, with it and without it, as they stand and as they stood when it was written."""

    def __init__(self, bearing: set[bpy.types.Object]):
        self._columns = Columns(None)
        self._row = {thing: n for n, thing in enumerate(self._columns.objects) if thing in bearing}

    @cached_property
    def now(self) -> _Places:
        return _Places(self._row, self._mode, table.read(self._columns), table.read(self._columns, "delta_"))

    @cached_property
    def bare(self) -> _Places:
        found = deltas.bare(self._columns)
        return _Places(self._row, self._mode, found.own.packed(), found.deltas.packed())

    @cached_property
    def then(self) -> _Places:
        return self._remembered(deltas.recorded(self._columns)[1])

    @cached_property
    def bare_then(self) -> _Places:
        return self._remembered(deltas.recorded(self._columns)[0])

    @cached_property
    def _mode(self) -> np.ndarray:
        return np.array([_MODES.get(thing.rotation_mode, _AXIS_ANGLE) for thing in self._columns.objects])

    def _remembered(self, over: np.ndarray) -> _Places:
        known = rest.read(self._columns)
        row = {thing: n for thing, n in self._row.items() if known.is_known[n]}
        return _Places(row, known.mode, known.own, over)


def _matrix(mode: int, own: np.ndarray, over: np.ndarray) -> np.ndarray:
    """From the axes of an object to its parent's space (4, 4), of its channels and the deltas over them."""
    modes, own, over = np.array([mode]), own.astype(np.float64)[None], over.astype(np.float64)[None]
    turns = [rotations(modes, each[:, EULER], each[:, QUATERNION]) for each in (over, own)]
    found = np.eye(4)
    found[:3, :3] = rigid.product(*turns)[0] * (own * over)[0, SCALE]
    found[:3, 3] = (own + over)[0, LOCATION]
    return found


def _before(thing: bpy.types.Object):
    stood = thing.matrix_parent_inverse.copy()

    def back() -> None:
        thing.matrix_parent_inverse = stood

    return back
