"""What stood beneath our deltas when they were written, so that what an artist has done to a brick since is known.

Each brick remembers the build it is of, its own channels, the box of its mesh and its parent.
"""

from dataclasses import dataclass
from zlib import crc32

import bpy
import numpy as np

from ...transaction import keep
from ..columns import Columns
from ..exports.forms import points_of
from ..wear import originals
from . import table

RECORD = "playworn_rest"
_BUILD, _MODE, _PARENT = range(3)
_OWN, _BOX = slice(3, 3 + table.WIDTH), slice(3 + table.WIDTH, 9 + table.WIDTH)
_RECORD_WIDTH = 9 + table.WIDTH
_AXIS_ANGLE = -1
_MOST = 2**24  # whole numbers up to here are exact in float32


@dataclass(frozen=True)
class Rest:
    """What n objects remember."""

    record: np.ndarray  # (n, 22) float32; where nothing is remembered, as in files of earlier versions, 0

    @property
    def build(self) -> np.ndarray:
        """(n,) the number of the build that each is a brick of, 0 where that is not remembered."""
        return self.record[:, _BUILD].astype(np.int64)

    @property
    def is_known(self) -> np.ndarray:
        return self.record[:, _MODE] > 0.0

    @property
    def mode(self) -> np.ndarray:
        """(n,) of rotation, as Blender numbers it."""
        return self.record[:, _MODE].astype(np.int64) - 1 + _AXIS_ANGLE

    @property
    def own(self) -> np.ndarray:
        """(n, 13)"""
        return self.record[:, _OWN]

    @property
    def box(self) -> np.ndarray:
        """(n, 6) lowest and highest corner of the mesh in its own axes."""
        return self.record[:, _BOX]

    @property
    def parent(self) -> np.ndarray:
        """(n,)"""
        return self.record[:, _PARENT]

    def rows(self, rows: np.ndarray) -> "Rest":
        return Rest(self.record[rows])


def register() -> None:
    """Declares the record: a registered property, since only those survive on library overrides."""
    prop = bpy.props.FloatVectorProperty(size=_RECORD_WIDTH, options={"HIDDEN"}, override={"LIBRARY_OVERRIDABLE"})
    setattr(bpy.types.Object, RECORD, prop)


def unregister() -> None:
    delattr(bpy.types.Object, RECORD)


def read(columns: Columns) -> Rest:
    return Rest(columns.read(RECORD, _RECORD_WIDTH))


def remember(columns: Columns, new: np.ndarray, build: int | np.ndarray) -> None:
    """Lets some rows remember how they stand, and the number of their build, or of each one's."""
    if not len(new):
        return
    before, own, mode = read(columns), table.read(columns), columns.read("rotation_mode", dtype=np.int32)
    things = columns.some(new)
    record = np.empty((len(new), _RECORD_WIDTH), dtype=np.float32)
    record[:, _BUILD], record[:, _MODE] = build, mode[new] + 1 - _AXIS_ANGLE
    record[:, _OWN], record[:, _BOX], record[:, _PARENT] = own[new], boxes(things), parents(things)
    keep(lambda: lambda: put_back(columns, before))
    columns.write(RECORD, new, record)
    others = np.delete(np.arange(len(columns.objects)), new)
    for row in others[~before.record[others].any(axis=1)]:  # an array is written for the whole collection
        columns.objects[row].property_unset(RECORD)


def put_back(columns: Columns, before: Rest) -> None:
    """Lets objects remember what they did, bit for bit."""
    for thing, record in zip(columns.objects, before.record, strict=True):
        if not record.any():
            thing.property_unset(RECORD)
        elif np.array(getattr(thing, RECORD), np.float32).tobytes() != record.tobytes():
            setattr(thing, RECORD, record)


def boxes(things: list[bpy.types.Object]) -> np.ndarray:
    """(n, 6) of the meshes of objects, whatever twins they show; 0 where there is none."""
    meshes, number = originals.originals(things)
    return np.array([_box(mesh) for mesh in meshes], dtype=np.float32).reshape(-1, 6)[number]


def parents(things: list[bpy.types.Object], was: np.ndarray | None = None) -> np.ndarray:
    """(n,) a number for the parent that each has, 0 for none; one that was renamed since keeps that of those (n,) that
    things remember."""
    number = {parent: _number(parent) for parent in {thing.parent for thing in things}}
    found = np.array([number[thing.parent] for thing in things], dtype=np.float32)
    return found if was is None else _as_named_before(found, was)


def _as_named_before(now: np.ndarray, was: np.ndarray) -> np.ndarray:
    """A parent goes by another name where none in the file has the old one, and all that hung on that hang on this."""
    other = (now != was) & (now > 0) & (was > 0)
    if not other.any():
        return now
    found, there = now.copy(), {number_of(thing.name_full) for thing in bpy.data.objects}
    for old in set(was[other].tolist()) - there:
        (new, *more) = set(now[(was == old) & (now > 0)].tolist())
        if not more and not (was == new).any():
            found[now == new] = old
    return found


def number_of(name: str) -> int:
    """A whole number for a name, never 0."""
    return 1 + crc32(name.encode()) % (_MOST - 1)


def _number(parent: bpy.types.Object | None) -> int:
    return 0 if parent is None else number_of(parent.name_full)


def _box(mesh: bpy.types.ID | None) -> np.ndarray:
    if not isinstance(mesh, bpy.types.Mesh) or not len(mesh.vertices):
        return np.zeros(6, dtype=np.float32)
    points = points_of(mesh)
    return np.concatenate([points.min(axis=0), points.max(axis=0)])
