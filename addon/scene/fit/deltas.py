"""The delta transforms of objects, and the record that lets ours be taken out again bit for bit.

An artist may own deltas already, and may nudge a brick after the fit has moved it. The record on each brick holds
the artist's deltas and what was written over them; what has changed since belongs to the artist. Where keys of ours
move a delta from shot to shot the record says so: what such a delta shows at a frame is nobody's change.
"""

from collections import deque
from dataclasses import dataclass
from operator import methodcaller

import bpy
import numpy as np

from ...transaction import Back, keep
from ..columns import Columns

RECORD = "playworn_deltas"
_FIELDS = {"delta_location": 3, "delta_rotation_euler": 3, "delta_rotation_quaternion": 4, "delta_scale": 3}
_WIDTH = sum(_FIELDS.values())
_RECORD_WIDTH = 1 + 2 * _WIDTH  # 0 for no record, else 1 + 2 * the bits of the keyed deltas; the artist's; the written
CHANNELS = tuple((name, index) for name, width in _FIELDS.items() for index in range(width))
_BITS = 2 ** np.arange(1, 1 + _WIDTH)


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
        return Deltas(*(each[rows] for each in vars(self).values()))


def register() -> None:
    """Declares the record: a registered property, since only those survive on library overrides."""
    prop = bpy.props.FloatVectorProperty(size=_RECORD_WIDTH, options={"HIDDEN"}, override={"LIBRARY_OVERRIDABLE"})
    setattr(bpy.types.Object, RECORD, prop)


def unregister() -> None:
    delattr(bpy.types.Object, RECORD)


def current(columns: Columns) -> Deltas:
    """The deltas as they stand."""
    return Deltas(*(columns.read(name, width) for name, width in _FIELDS.items()))


def artists(columns: Columns) -> tuple[Deltas, np.ndarray]:
    """The deltas without ours, and which objects (n,) carry ours."""
    now = current(columns).packed()
    ours, keyed, base, written = _record(columns)
    other = (now != written) & ~keyed
    if ours.all() and not other.any():
        return Deltas.unpacked(base), ours
    nudged = np.where(other, base + (now - written), base)
    return Deltas.unpacked(np.where(ours[:, None], nudged, now)), ours


def write(columns: Columns, rows: np.ndarray, base: Deltas, ours: Deltas) -> None:
    """Puts our deltas on some rows and remembers the artist's beneath them."""
    _keep(columns)
    _remember(columns, rows, np.zeros((len(rows), _WIDTH), dtype=bool), base.packed(), ours.packed())
    _put(columns, rows, ours)


def hold(columns: Columns, rows: np.ndarray, keyed: np.ndarray, shown: Deltas) -> None:
    """Remembers which deltas (rows, 13) of some rows that carry ours are keyed, and shows what the keys say now."""
    _keep(columns)
    standing = current(columns).rows(rows)
    base = artists(columns)[0].rows(rows)
    _remember(columns, rows, keyed, base.packed(), standing.packed())
    _put(columns, rows, Deltas.unpacked(np.where(keyed, shown.packed(), standing.packed())))


def release(columns: Columns) -> int:
    """Puts every keyed delta back to what was written before there were keys; how many objects had any."""
    _, keyed, base, written = _record(columns)
    rows = np.flatnonzero(keyed.any(axis=1))
    standing = np.where(keyed, written, current(columns).packed())
    if len(rows):
        _keep(columns)
        _remember(columns, rows, np.zeros_like(keyed[rows]), base[rows], written[rows])
        _put(columns, rows, Deltas.unpacked(standing[rows]))
    return len(rows)


def restore(columns: Columns, among: np.ndarray | None = None) -> list[bpy.types.Object]:
    """Takes our deltas off every object, or off some rows, that carry them; returns those objects."""
    _keep(columns)
    base, ours = artists(columns)
    rows = np.flatnonzero(ours) if among is None else among[ours[among]]
    _put(columns, rows, base.rows(rows))
    objects = columns.some(rows)
    for thing in objects:
        thing.property_unset(RECORD)
    return objects


def _keep(columns: Columns) -> None:
    keep(lambda: _before(columns))


def _before(columns: Columns) -> Back:
    """How the deltas stand now, bit for bit, and what is remembered of them."""
    stood = {name: columns.read(name, width) for name, width in (*_FIELDS.items(), (RECORD, _RECORD_WIDTH))}
    recorded = stood[RECORD][:, 0] > 0.0

    def back() -> None:
        for row, thing in enumerate(columns.objects):
            for name, values in stood.items():
                if np.array(getattr(thing, name), np.float32).tobytes() != values[row].tobytes():
                    setattr(thing, name, values[row])
            if not recorded[row] and thing.is_property_set(RECORD):
                thing.property_unset(RECORD)

    return back


def _record(columns: Columns) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Which objects (n,) carry ours, which of their deltas (n, 13) are keyed, the artist's and the written deltas."""
    record = columns.read(RECORD, _RECORD_WIDTH)
    state = record[:, 0].astype(np.int64)
    keyed = np.zeros((len(state), _WIDTH), dtype=bool)
    some = np.flatnonzero(state > 1)
    keyed[some] = (state[some, None] & _BITS) > 0
    return state > 0, keyed, record[:, 1 : 1 + _WIDTH], record[:, 1 + _WIDTH :]


def _remember(columns: Columns, rows: np.ndarray, keyed: np.ndarray, base: np.ndarray, written: np.ndarray) -> None:
    others = np.delete(np.arange(len(columns.objects)), rows)
    strangers = others[~_record(columns)[0][others]] if len(others) else others
    state = 1 + keyed @ _BITS
    columns.write(RECORD, rows, np.concatenate([state[:, None], base, written], axis=1, dtype=np.float32))
    for row in strangers:  # an array is written for the whole collection: what is no brick keeps no record
        columns.objects[row].property_unset(RECORD)


def _put(columns: Columns, rows: np.ndarray, deltas: Deltas) -> None:
    table = deltas.packed()
    start = 0
    for name, width in _FIELDS.items():
        columns.write(name, rows, table[:, start : start + width])
        start += width
    tag = methodcaller("update_tag", refresh={"OBJECT"})
    deque(map(tag, columns.some(rows)), 0)  # written arrays alone tell Blender of no change
