"""What an artist hung on bricks while these bore deltas of ours: it hangs on them as they stand without.

Blender keeps a thing where it is by the inverse of its new parent's matrix, our motion and clearance in it. Taken off
the parent they would come out on what hangs there, the larger the farther away it is.
"""

from functools import partial

import bpy
import numpy as np
from mathutils import Matrix

from ...core import rigid
from ...transaction import keep
from ..columns import Columns
from ..turns import rotations
from . import deltas, table
from .table import EULER, LOCATION, QUATERNION, SCALE

_SAME = 3e-6  # rounding: of a turn and of the farthest place
_MODES = {"QUATERNION": 0, "XYZ": 1, "XZY": 2, "YXZ": 3, "YZX": 4, "ZXY": 5, "ZYX": 6}


def adopt() -> None:
    """Lets everything in the file that was hung on a brick of ours hang on it as it stands without."""
    parents = {above for thing in bpy.data.objects if (above := thing.parent) is not None}
    bearing = {above for above in parents if getattr(above, deltas.RECORD)[0] > 0.0}
    if not bearing:
        return
    worn, bare = _Places(Columns(None), bearing, is_bare=False), None
    for thing in bpy.data.objects:
        above = thing.parent
        if above is None or above not in bearing or thing.parent_type != "OBJECT" or not thing.is_editable:
            continue
        if worn.is_undone_by(thing, above):
            bare = bare or _Places(worn.columns, bearing, is_bare=True)
            if not bare.is_undone_by(thing, above):
                keep(partial(_before, thing))
                thing.matrix_parent_inverse = Matrix(bare.of(above).tolist()).inverted_safe()


class _Places:
    """Where things stand in the world, with our deltas or without them."""

    def __init__(self, columns: Columns, bearing: set[bpy.types.Object], is_bare: bool):
        self.columns = columns
        row = {thing: n for n, thing in enumerate(columns.objects)}
        if is_bare:
            found = deltas.bare(columns)
            own, over = found.own.packed(), found.deltas.packed()
        else:
            own, over = table.read(columns), table.read(columns, "delta_")
        self._tables = {thing: (own[row[thing]], over[row[thing]]) for thing in bearing}

    def of(self, thing: bpy.types.Object) -> np.ndarray:
        """(4, 4)"""
        if thing not in self._tables or thing.rotation_mode not in _MODES:
            return np.array(thing.matrix_world, dtype=np.float64)
        local = _matrix(_MODES[thing.rotation_mode], *self._tables[thing])
        if thing.parent is None:
            return local
        return self.of(thing.parent) @ np.array(thing.matrix_parent_inverse, dtype=np.float64) @ local

    def is_undone_by(self, thing: bpy.types.Object, above: bpy.types.Object) -> bool:
        """Whether the inverse that a thing keeps of what is above it is that of where this stands here."""
        place = self.of(above)
        left = place @ np.array(thing.matrix_parent_inverse, dtype=np.float64) - np.eye(4)
        far = np.abs(place[:3, 3]).max()
        return np.abs(left[:3, :3]).max() <= _SAME and np.abs(left[:3, 3]).max() <= _SAME * far


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
