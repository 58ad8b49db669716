"""The delta transforms of objects, and the record that lets ours be taken out again bit for bit.

An artist may own deltas already, and may move a brick after the fit has. The record on each brick holds the artist's
deltas and what was written over them; what has changed since belongs to the artist (`hand`). Where keys of ours move a
delta from shot to shot the record says so: what such a delta shows at a frame is nobody's change.
"""

from collections import deque
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from functools import partial
from operator import methodcaller

import bpy
import numpy as np

from ... import compat, raw
from ...blender import context
from ...core import threads
from ...core.slices import whole
from ...transaction import Back, keep
from .. import curves
from ..columns import Columns, raw_names
from . import hand, rest, table
from .grown import grown

RECORD = "playworn_deltas"
_DELTA = "delta_"
_FIELDS = {_DELTA + name: width for name, width in table.WIDTHS.items()}
_RECORD_WIDTH = 1 + 2 * table.WIDTH  # 0 for no record, else 1 and the bits below; the artist's deltas; the written
CHANNELS = tuple((name, index) for name, width in _FIELDS.items() for index in range(width))
_BITS = 2 ** np.arange(1, 1 + table.WIDTH)  # which deltas are keyed
_AT_ONCE = 500  # objects
_APPLIED = 2 ** (1 + table.WIDTH)  # the artist's are over a motion of ours that is in the points


@dataclass(frozen=True)
class Deltas:
    """Deltas of n objects, or their own channels, as Blender keeps them: float32 in the parent's space."""

    location: np.ndarray  # (n, 3)
    euler: np.ndarray  # (n, 3)
    quaternion: np.ndarray  # (n, 4)
    scale: np.ndarray  # (n, 3)

    def packed(self) -> np.ndarray:
        return np.concatenate([self.location, self.euler, self.quaternion, self.scale], axis=1, dtype=np.float32)

    @classmethod
    def unpacked(cls, packed: np.ndarray) -> "Deltas":
        return cls(*np.split(packed, np.cumsum(list(table.WIDTHS.values()))[:-1], axis=1))

    def rows(self, rows: np.ndarray) -> "Deltas":
        return Deltas(*(each[rows] for each in vars(self).values()))


@dataclass(frozen=True)
class Stood:
    """How the deltas of n objects are, bit for bit."""

    deltas: np.ndarray  # (n, 13) as they stand
    record: np.ndarray  # (n, 27) ours of them

    @classmethod
    def read(cls, columns: Columns) -> "Stood":
        return cls(table.read(columns, _DELTA), columns.read(RECORD, _RECORD_WIDTH))


@dataclass(frozen=True)
class Bare:
    """n objects without our deltas."""

    deltas: Deltas  # the artist's
    own: Deltas  # own channels
    ours: np.ndarray  # (n,) which carry deltas of ours
    moves: np.ndarray  # (n,) whose own channels are others than those they have now
    applied: np.ndarray  # (n,) which have a motion of ours in their points
    build: np.ndarray  # (n,) the number of the build that each knows to be a brick of
    known: np.ndarray  # (n,) which remember their own channels as these are
    stood: Stood


@dataclass(frozen=True)
class Restored:
    """What became of objects that our deltas were taken off."""

    back: list[bpy.types.Object]  # those that stand without
    applied: list[bpy.types.Object]  # those that stay as they stand, their transforms were applied
    keyed: list[bpy.types.Object]  # those that stay, their deltas are animated or driven


def register() -> None:
    """Declares the record: a registered property, since only those survive on library overrides."""
    prop = bpy.props.FloatVectorProperty(size=_RECORD_WIDTH, options={"HIDDEN"}, override={"LIBRARY_OVERRIDABLE"})
    setattr(bpy.types.Object, RECORD, prop)
    rest.register()


def unregister() -> None:
    rest.unregister()
    delattr(bpy.types.Object, RECORD)


def current(columns: Columns) -> Deltas:
    """The deltas as they stand."""
    return Deltas.unpacked(table.read(columns, _DELTA))


def held(thing: bpy.types.Object, frames: Sequence[float]) -> dict[int, list[float]]:
    """What keys of ours say of an object's deltas at some frames, by their numbers among `CHANNELS`."""
    said = curves.held(thing, frames)
    return {CHANNELS.index(channel): values for channel, values in said.items() if channel in CHANNELS}


def shown(columns: Columns) -> np.ndarray:
    """The deltas (n, 13) as they stand, but where an artist's transforms went into deltas that keys of ours move: there
    what the keys show, as no other frame tells of the rest."""
    now, (_, keyed, _, _, written) = table.read(columns, _DELTA), _record(columns)
    if keyed.any():
        own, known = table.read(columns), rest.read(columns)
        rows = np.flatnonzero(keyed.any(axis=1) & known.is_known & (own != known.own).any(axis=1))
        keys = written[rows]
        for row, thing in enumerate(columns.some(rows)):
            for channel, (value,) in held(thing, (context().scene.frame_current,)).items():
                keys[row, channel] = value
        now[rows] = hand.beneath(now[rows], keys, own[rows], known.rows(rows))
    return now


def bare(columns: Columns, shows: np.ndarray | None = None) -> Bare:
    """Objects as they would stand without ours; `shows` (n, 13) is what `shown` told while there were keys."""
    stood, own = Stood.read(columns), table.read(columns)
    now, (ours, keyed, applied, base, written) = stood.deltas, _recorded(stood.record)
    moves = np.zeros_like(ours)
    deltas = np.where(ours[:, None], base, now)
    known = rest.read(columns)
    alike = known.is_known & (known.own == own).all(axis=1)
    if ours.any():
        if keyed.any():
            written = np.where(keyed, shown(columns) if shows is None else shows, written)  # a turn went about that
        clears = (written != base)[:, table.SCALE].any(axis=1)  # with clearance in the delta none is in the mesh
        joined = _joined(columns, ours & known.is_known, known.box, ~clears)
        deltas[joined], applied[joined], alike[joined] = now[joined], True, False
        rows = np.flatnonzero(ours & ~joined & ((now != written).any(axis=1) | (known.is_known & ~alike)))
        if len(rows):
            things, knew = columns.some(rows), known.rows(rows)
            them = hand.Standing(
                now[rows], written[rows], base[rows], own[rows], columns.read("rotation_mode", dtype=np.int32)[rows],
                rest.boxes(things), rest.parents(things, knew.parent), knew,
            )  # fmt: skip
            found = hand.taken_off(them)
            moves[rows], applied[rows] = (found.own != own[rows]).any(axis=1), applied[rows] | found.stays
            deltas[rows], own = found.deltas, own.copy()
            own[rows] = found.own
    return Bare(Deltas.unpacked(deltas), Deltas.unpacked(own), ours, moves, applied, known.build, alike, stood)


def _joined(columns: Columns, ours: np.ndarray, was: np.ndarray, smaller: np.ndarray) -> np.ndarray:
    """Which objects (n,) of those that carry `ours` (n,) had something joined to them; see `grown`."""
    rows = np.flatnonzero(ours)
    found = np.zeros_like(ours)
    if len(rows):
        found[rows] = grown(columns.some(rows), was[rows], smaller[rows])
    return found


def artists(columns: Columns) -> tuple[Deltas, np.ndarray]:
    """The deltas without ours, and which objects (n,) carry ours."""
    found = bare(columns)
    return found.deltas, found.ours


def recorded(columns: Columns) -> tuple[np.ndarray, np.ndarray]:
    """The artist's deltas (n, 13) of objects that carry ours, and those that were written over them."""
    return _record(columns)[3:]


def place(columns: Columns, rows: np.ndarray, without: Bare) -> None:
    """Gives those of some rows the own channels that they have without ours."""
    moving = rows[without.moves[rows]]
    if len(moving):
        keep(lambda: _placed_before(columns, moving))
        table.write(columns, moving, without.own.rows(moving).packed())


def write(columns: Columns, rows: np.ndarray, base: Deltas, ours: Deltas, applied: np.ndarray | None = None) -> None:
    """Puts our deltas on some rows and remembers the artist's beneath them, and which of the rows have a motion of ours
    in their points."""
    _keep(columns)
    if applied is None:
        applied = _record(columns)[2][rows]
    unkeyed = np.zeros((len(rows), table.WIDTH), dtype=bool)
    _remember(columns, rows, unkeyed, applied, base.packed(), ours.packed())
    _put(columns, rows, ours)


def hold(columns: Columns, rows: np.ndarray, keyed: np.ndarray, shown: Deltas) -> None:
    """Remembers which deltas (rows, 13) of some rows that carry ours are keyed, and shows what the keys say now."""
    _keep(columns)
    standing = current(columns).rows(rows)
    found = bare(columns)
    _settle(columns, rows, found)
    _remember(columns, rows, keyed, found.applied[rows], found.deltas.rows(rows).packed(), standing.packed())
    _put(columns, rows, Deltas.unpacked(np.where(keyed, shown.packed(), standing.packed())))


def release(columns: Columns, shows: np.ndarray) -> int:
    """Puts every keyed delta back to what was written before there were keys; how many objects had any. What an artist
    turned beneath them is turned as it would be without ours, and what went into them goes into what was written:
    `shows` (n, 13) is what `shown` told while there were keys."""
    _, keyed, applied, base, written = _record(columns)
    rows = np.flatnonzero(keyed.any(axis=1))
    now = table.read(columns, _DELTA)
    standing = np.where(keyed, written, now)
    if len(rows):
        _keep(columns)
        went = rows[(shows != now)[rows].any(axis=1)]
        gone = hand.into_deltas(written[went], rest.read(columns).rows(went))
        standing[went] = np.where(keyed[went] & (shows != now)[went], gone, standing[went])
        _settle(columns, rows, bare(columns, shows))
        _remember(columns, rows, np.zeros_like(keyed[rows]), applied[rows], base[rows], written[rows])
        _put(columns, rows, Deltas.unpacked(standing[rows]))
    return len(rows)


def _settle(columns: Columns, rows: np.ndarray, found: Bare) -> None:
    """Lets those of some rows that an artist moved otherwise than by their deltas be moved as without ours, and
    remember that, while it is known what was shown beneath."""
    base = recorded(columns)[0]
    moved = rows[(found.moves & ~found.applied & (found.deltas.packed() == base).all(axis=1))[rows]]
    place(columns, moved, found)
    rest.remember(columns, moved, found.build[moved])


def restore(columns: Columns, among: np.ndarray | None = None) -> Restored:
    """Takes our deltas off every object, or off some rows, that carry them, and forgets what was remembered of them."""
    return whole(restoring(columns, among))


def restoring(columns: Columns, among: np.ndarray | None = None) -> Generator[None, None, Restored]:
    """The same in parts."""
    _keep(columns)
    keep(lambda: partial(rest.put_back, columns, rest.read(columns)))
    yield
    found = bare(columns)
    rows = np.arange(len(columns.objects)) if among is None else among
    keyed = np.array([_is_keyed(thing) for thing in columns.some(rows)], dtype=bool)
    ours, stays = found.ours[rows], found.applied[rows]
    free = rows[ours & ~keyed]
    yield
    place(columns, free, found)
    _put(columns, free, found.deltas.rows(free))
    things = columns.some(rows)
    for some in threads.slices(len(things), _AT_ONCE):
        yield
        forget(things[some])
    groups = (ours & ~keyed & ~stays, ours & ~keyed & stays, ours & keyed)
    return Restored(*(columns.some(rows[each]) for each in groups))


def forget(things: Sequence[bpy.types.Object]) -> None:
    """Nothing is remembered of objects any more, also where Blender keeps raw properties apart from registered ones."""
    for thing in things:
        for name in (RECORD, rest.RECORD):
            if thing.is_property_set(name):
                thing.property_unset(name)
    if compat.keeps_raw_apart() and raw_names(things, (RECORD, rest.RECORD)):
        for thing in things:
            raw.drop(thing, RECORD, rest.RECORD)


def carrying(columns: Columns) -> np.ndarray:
    """Which objects (n,) carry deltas of ours."""
    return _record(columns)[0]


def _is_keyed(thing: bpy.types.Object) -> bool:
    """Whether an artist has animated or driven deltas."""
    if thing.animation_data is None:
        return False
    return any(path.startswith(_DELTA) for path in curves.artists_paths(thing))


def _keep(columns: Columns) -> None:
    keep(lambda: _before(columns, Stood.read(columns)), columns)


def as_read(columns: Columns, without: Bare) -> None:
    """To be called where nothing was written since that was read: what is written next needs no second look."""
    keep(lambda: _before(columns, without.stood), columns)


def _before(columns: Columns, stood: Stood) -> Back:
    recorded, fields = stood.record[:, 0] > 0.0, vars(Deltas.unpacked(stood.deltas)).values()
    were = {**dict(zip(_FIELDS, fields, strict=True)), RECORD: stood.record}

    def back() -> None:
        for row, thing in enumerate(columns.objects):
            for name, values in were.items():
                if np.array(getattr(thing, name), np.float32).tobytes() != values[row].tobytes():
                    setattr(thing, name, values[row])
            if not recorded[row] and thing.is_property_set(RECORD):
                thing.property_unset(RECORD)

    return back


def _placed_before(columns: Columns, rows: np.ndarray) -> Back:
    stood = table.read(columns)[rows]
    return lambda: table.write(columns, rows, stood)


def _record(columns: Columns) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    return _recorded(columns.read(RECORD, _RECORD_WIDTH))


def _recorded(record: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Which objects (n,) carry ours, which of their deltas (n, 13) are keyed, which have a motion of ours in their
    points, the artist's and the written deltas."""
    state = record[:, 0].astype(np.int64)
    keyed = np.zeros((len(state), table.WIDTH), dtype=bool)
    some = np.flatnonzero(state > 1)
    keyed[some] = (state[some, None] & _BITS) > 0
    return state > 0, keyed, (state & _APPLIED) > 0, record[:, 1 : 1 + table.WIDTH], record[:, 1 + table.WIDTH :]


def _remember(
    columns: Columns, rows: np.ndarray, keyed: np.ndarray, applied: np.ndarray, base: np.ndarray, written: np.ndarray
) -> None:
    others = np.delete(np.arange(len(columns.objects)), rows)
    strangers = others[~_record(columns)[0][others]] if len(others) else others
    state = 1 + keyed @ _BITS + applied * _APPLIED
    columns.write(RECORD, rows, np.concatenate([state[:, None], base, written], axis=1, dtype=np.float32))
    for row in strangers:  # an array is written for the whole collection: what is no brick keeps no record
        columns.objects[row].property_unset(RECORD)


def _put(columns: Columns, rows: np.ndarray, deltas: Deltas) -> None:
    table.write(columns, rows, deltas.packed(), _DELTA)
    tag = methodcaller("update_tag", refresh={"OBJECT"})
    deque(map(tag, columns.some(rows)), 0)  # written arrays alone tell Blender of no change
