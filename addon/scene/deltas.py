"""The delta transforms of objects, and the record that lets ours be taken out again bit for bit.

An artist may own deltas already, and may nudge a brick after the fit has moved it. The record on each brick holds
the artist's deltas and what was written over them; what has changed since belongs to the artist.
"""

from dataclasses import dataclass

import bpy
import numpy as np

from .columns import Columns

RECORD = "playworn_deltas"
_FIELDS = {"delta_location": 3, "delta_rotation_euler": 3, "delta_rotation_quaternion": 4, "delta_scale": 3}
_WIDTH = sum(_FIELDS.values())


@dataclass(frozen=True)
class Deltas:
    """Deltas of n objects, as Blender keeps them: float32 in the parent's space."""

    location: np.ndarray  # (n, 3)
    euler: np.ndarray  # (n, 3)
    quaternion: np.ndarray  # (n, 4)
    scale: np.ndarray  # (n, 3)

    def packed(self) -> np.ndarray:
        return np.concatenate([self.location, self.euler, self.quaternion, self.scale], axis=1, dtype=np.float32)

    @classmethod
    def unpacked(cls, table: np.ndarray) -> "Deltas":
        return cls(*np.split(table, np.cumsum(list(_FIELDS.values()))[:-1], axis=1))

    def rows(self, rows: np.ndarray) -> "Deltas":
        return Deltas.unpacked(self.packed()[rows])


def register() -> None:
    """Declares the record: a registered property, since only those survive on library overrides."""
    prop = bpy.props.FloatVectorProperty(size=1 + 2 * _WIDTH, options={"HIDDEN"}, override={"LIBRARY_OVERRIDABLE"})
    setattr(bpy.types.Object, RECORD, prop)


def unregister() -> None:
    delattr(bpy.types.Object, RECORD)


def current(columns: Columns) -> Deltas:
    """The deltas as they stand."""
    return Deltas(*(columns.read(name, width) for name, width in _FIELDS.items()))


def artists(columns: Columns) -> tuple[Deltas, np.ndarray]:
    """The deltas without ours, and which objects (n,) carry ours."""
    now = current(columns).packed()
    record = columns.read(RECORD, 1 + 2 * _WIDTH)
    base, written = record[:, 1 : 1 + _WIDTH], record[:, 1 + _WIDTH :]
    ours = record[:, 0] == 1.0
    nudged = np.where(now == written, base, base + (now - written))
    return Deltas.unpacked(np.where(ours[:, None], nudged, now)), ours


def write(columns: Columns, rows: np.ndarray, base: Deltas, ours: Deltas) -> None:
    """Puts our deltas on some rows and remembers the artist's beneath them."""
    record = np.concatenate([np.ones((len(rows), 1)), base.packed(), ours.packed()], axis=1, dtype=np.float32)
    others = np.delete(np.arange(len(columns.objects)), rows)
    strangers = others[columns.read(RECORD, 1 + 2 * _WIDTH)[others, 0] != 1.0] if len(others) else others
    columns.write(RECORD, rows, record)
    for row in strangers:  # an array is written for the whole collection: what is no brick keeps no record
        columns.objects[row].property_unset(RECORD)
    _put(columns, rows, ours)


def restore(columns: Columns, among: np.ndarray | None = None) -> list[bpy.types.Object]:
    """Takes our deltas off every object, or off some rows, that carry them; returns those objects."""
    base, ours = artists(columns)
    rows = np.flatnonzero(ours) if among is None else among[ours[among]]
    _put(columns, rows, base.rows(rows))
    objects = [columns.objects[row] for row in rows]
    for thing in objects:
        thing.property_unset(RECORD)
    return objects


def _put(columns: Columns, rows: np.ndarray, deltas: Deltas) -> None:
    table = deltas.packed()
    start = 0
    for name, width in _FIELDS.items():
        columns.write(name, rows, table[:, start : start + width])
        start += width
    changed = {"OBJECT"}
    for thing in map(columns.objects.__getitem__, rows.tolist()):  # written arrays alone tell Blender of no change
        thing.update_tag(refresh=changed)
