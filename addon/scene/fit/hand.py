"""What an artist has done to bricks since they were moved, told from what was written on them and how they stand now.

Our deltas alone are taken off: what is left is where the same hand would have brought a brick that never had any.
A component of a delta that is not as written was moved by hand and stays moved so far, or it is round, as ours
practically never are, and stays as it was set. Our turn is taken out of transforms that went into deltas, of all that
turned or scaled around the brick (another parent, an instance made real, a whole build scaled) and of an origin that
moved. It cannot be taken out of points: a brick whose transforms were applied stays as it stands.
"""

from dataclasses import dataclass

import numpy as np
from mathutils import Euler, Quaternion

from ...core import rigid
from ..turns import ORDERS, channels, rotations
from .rest import Rest
from .table import EULER, LOCATION, NOTHING, QUATERNION, SCALE

_SAME = 1e-6  # finer differences are rounding
_DIGITS, _DIGITS_DEG = 4, 2  # of a number that was set by hand, at most
_BY_CHANCE = 1 / 500  # of others has as few
_SLACK = 0.02  # of a mesh's size: the middle of a rounded one is not quite that of the one in whose place it is
_GROUPS = (LOCATION, EULER, QUATERNION, SCALE)
_TURNS = slice(EULER.start, SCALE.start)


@dataclass(frozen=True)
class Standing:
    """n bricks that carry our deltas, as they stand and as they stood when these were written."""

    now: np.ndarray  # (n, 13) deltas
    written: np.ndarray  # (n, 13) ours, over
    base: np.ndarray  # (n, 13) the artist's
    own: np.ndarray  # (n, 13) their own channels now
    mode: np.ndarray  # (n,) of rotation, as Blender numbers it
    box: np.ndarray  # (n, 6) of their meshes now
    parent: np.ndarray  # (n,) a number for the parent that each has now
    rest: Rest  # (n)


@dataclass(frozen=True)
class TakenOff:
    """The same bricks with our deltas taken off."""

    deltas: np.ndarray  # (n, 13)
    own: np.ndarray  # (n, 13)
    stays: np.ndarray  # (n,) which stay as they stand


def taken_off(them: Standing) -> TakenOff:
    stays = _are_applied(them)
    deltas = _deltas(them)
    own = _own(them, deltas)
    as_they_stand = stays | (them.now == them.base).all(axis=1)  # or another version took ours off, and not the record
    deltas[as_they_stand], own[as_they_stand] = them.now[as_they_stand], them.own[as_they_stand]
    return TakenOff(deltas, own, stays)


def beneath(now: np.ndarray, shown: np.ndarray, own: np.ndarray, rest: Rest) -> np.ndarray:
    """Of deltas (n, 13) what keys showed before own channels went into them; as they are `now` where none did."""
    found = now.copy()
    gone = into_deltas(shown, rest)
    for group in _GROUPS:
        nothing = NOTHING[group]
        went = (own[:, group] == nothing).all(axis=1) & (rest.own[:, group] != nothing).any(axis=1)
        went &= (np.abs(now[:, group] - gone[:, group]) <= _SAME).all(axis=1)
        found[went, group] = shown[went, group]
    return found


def into_deltas(deltas: np.ndarray, rest: Rest) -> np.ndarray:
    """Deltas (n, 13) with what was beneath ours gone into them, as Blender's Transforms to Deltas works it out."""
    found, mode = deltas.copy(), rest.mode
    found[:, LOCATION] += rest.own[:, LOCATION]
    found[:, SCALE] *= rest.own[:, SCALE]
    for row in np.flatnonzero(rest.is_known & (mode >= 0)).tolist():
        group = QUATERNION if mode[row] == 0 else EULER
        found[row, group] = _after(rest.own[row, group], deltas[row, group], int(mode[row]))
    return found


def _are_applied(them: Standing) -> np.ndarray:
    """Which bricks have a delta of ours in their points: it is cleared, and the mesh is not as it was."""
    found = np.zeros(len(them.now), dtype=bool)
    for group in _GROUPS:
        nothing = NOTHING[group]
        cleared = (them.written[:, group] != nothing).any(axis=1) & (them.now[:, group] == nothing).all(axis=1)
        was = them.rest.own[:, group]  # where it is still there nothing was applied: the delta was cleared alone
        cleared &= ~(them.rest.is_known & (them.own[:, group] == was).all(axis=1) & (was != nothing).any(axis=1))
        unknown = ~them.rest.is_known & (them.own[:, group] == nothing).all(axis=1)
        found |= cleared & (_meshed(them) | unknown)
    return found


def _meshed(them: Standing) -> np.ndarray:
    """Which bricks have another mesh than they had."""
    return them.rest.is_known & (them.box != them.rest.box).any(axis=1)


def _deltas(them: Standing) -> np.ndarray:
    """The artist's deltas (n, 13)."""
    now, written, base = them.now, them.written, them.base
    by_hand = np.where(_are_round(now), now, base + (now - written))
    by_hand[:, EULER] = np.where(_are_round(now[:, EULER], is_angle=True), now[:, EULER], by_hand[:, EULER])
    found = np.where(now == written, base, by_hand)
    for row in np.flatnonzero((now != written)[:, LOCATION].any(axis=1)).tolist():
        found[row, LOCATION] = _shifted(them, row, found[row, LOCATION])
    for row in np.flatnonzero((now != written)[:, SCALE].any(axis=1)).tolist():
        found[row, SCALE] = _scaled(them, row, found[row, SCALE])
    for modes, group in ((them.mode > 0, EULER), (them.mode == 0, QUATERNION)):
        for row in np.flatnonzero(modes & (now != written)[:, group].any(axis=1)).tolist():
            found[row, group] = _turned(them, row, group, found[row, group])
    return found


def _shifted(them: Standing, row: int, by_hand: np.ndarray) -> np.ndarray:
    """The artist's delta location of a brick, into which its own may have gone."""
    now, written, base, own = _of(them, row, LOCATION)
    return base + own if own.any() and (now == written + own).all() else by_hand


def _scaled(them: Standing, row: int, by_hand: np.ndarray) -> np.ndarray:
    """The artist's delta scale of a brick, into which its own may have gone."""
    now, written, base, own = _of(them, row, SCALE)
    if (own != 1.0).any() and (now == written * own).all():
        return base * own
    is_all_other = (now != written).all() and not _are_round(now).all()
    return base * (now / written) if is_all_other and written.all() else by_hand


def _turned(them: Standing, row: int, group: slice, by_hand: np.ndarray) -> np.ndarray:
    """The artist's delta rotation of a brick, into which its own may have gone."""
    now, written, base, own = _of(them, row, group)
    was = int(them.rest.mode[row])  # Blender works it out by this mode, and then may say another
    is_of_group = them.rest.is_known[row] and was >= 0 and (was == 0) == (group == QUATERNION)
    if is_of_group and (own != NOTHING[group]).any() and _near(_after(own, written, was), now):
        return _after(own, base, was)
    is_all_other = not _near(now, written, any) and not _are_round(now, is_angle=True).all()
    if not is_all_other or (them.own[row, group] != NOTHING[group]).any():
        return by_hand
    at = [row]
    bare, then, turn = (_turn(them.mode[at], table[at]) for table in (them.base, them.written, them.now))
    turn = rigid.product(bare, rigid.product(rigid.transpose(then), turn))
    return _channels(them.mode[at], turn, them.now[at])[0, group.start - _TURNS.start : group.stop - _TURNS.start]


def _of(them: Standing, row: int, group: slice) -> list[np.ndarray]:
    """Of one brick the delta now, as written, the artist's beneath, and its own channel as that was."""
    return [each[row, group] for each in (them.now, them.written, them.base, them.rest.own)]


def _near(a: np.ndarray, b: np.ndarray, how=all) -> bool:
    return how((np.abs(a - b) <= _SAME).tolist())


def _after(own: np.ndarray, delta: np.ndarray, mode: int) -> np.ndarray:
    """A delta rotation after an own one, as Blender's Transforms to Deltas works it out."""
    if mode == 0:
        turn, by = Quaternion(own.tolist()), Quaternion(delta.tolist())
    else:
        turn, by = Euler(own.tolist(), ORDERS[mode]), Euler(delta.tolist(), ORDERS[mode])
    turn.rotate(by)
    return np.array(turn[:], dtype=np.float32)


def _own(them: Standing, deltas: np.ndarray) -> np.ndarray:
    """Own channels (n, 13) beneath the artist's deltas."""
    rest, mode, found = them.rest, them.mode, them.own.copy()
    turn = _turn(mode, them.now, them.own)
    turn_then, turn_bare = _turn(mode, them.written, rest.own), _turn(mode, them.base, rest.own)
    size, size_then = them.now[:, SCALE] * them.own[:, SCALE], them.written[:, SCALE] * rest.own[:, SCALE]
    went = rigid.product(turn * size[:, None], rigid.inverse(turn_then * size_then[:, None]))
    shift, shift_then, shift_bare = (
        table[:, LOCATION].astype(np.float64) + own[:, LOCATION]
        for table, own in ((them.now, them.own), (them.written, rest.own), (them.base, rest.own))
    )

    moved = ~_alike(them.own[:, LOCATION], rest.own[:, LOCATION])
    resized = ~_alike(them.own[:, SCALE], rest.own[:, SCALE])
    turned = ~_alike(_turn(mode, them.own), _turn(mode, rest.own))
    about = turned & _are_all_other(them)
    known = rest.is_known & (rest.mode == mode) & np.isfinite(went).all(axis=(1, 2))
    stands = _alike(went, np.eye(3)) & _alike(shift, shift_then)
    adopted, meshed = them.parent != rest.parent, _meshed(them)

    pulled = moved & ((them.own != rest.own)[:, LOCATION] & ~_are_typed(them.own[:, LOCATION])).any(axis=1)
    around = known & ~stands & np.where(adopted, moved | turned | resized, pulled & (about | resized & ~meshed))
    found[around, LOCATION] = (shift + rigid.turned(went, shift_bare - shift_then) - deltas[:, LOCATION])[around]
    again = (around & turned) | (known & about & ~pulled)
    again &= ~_alike(turn_then, turn_bare)
    bare = rigid.product(rigid.product(turn, rigid.transpose(turn_then)), turn_bare)
    own_turn = rigid.product(rigid.transpose(_turn(mode, deltas)), bare)
    found[again, _TURNS] = _channels(mode, own_turn, them.own)[again]

    centred = known & meshed & moved & ~(turned | resized | around) & (them.now == them.written).all(axis=1)
    way = (them.own - rest.own)[:, LOCATION].astype(np.float64)
    within = rigid.turned(rigid.inverse(turn_then * size_then[:, None]), way)
    middle, size = 0.5 * (them.box[:, :3] + them.box[:, 3:]), (rest.box[:, 3:] - rest.box[:, :3]).max(axis=1)
    off = 0.5 * (rest.box[:, :3] + rest.box[:, 3:]) - middle - within
    centred &= np.abs(off).max(axis=1) <= _SLACK * size
    place = rigid.turned(turn_bare * (them.base * rest.own)[:, None, SCALE], within) + rest.own[:, LOCATION]
    found[centred, LOCATION] = place[centred]
    return found


def _turn(mode: np.ndarray, *tables: np.ndarray) -> np.ndarray:
    """Rotations (n, 3, 3) of channels, those of the last table first."""
    found = [rotations(mode, each[:, EULER], each[:, QUATERNION]) for each in tables]
    return found[0] if len(found) == 1 else rigid.product(*found)


def _channels(mode: np.ndarray, turn: np.ndarray, near: np.ndarray) -> np.ndarray:
    """Euler angles and quaternion (n, 7) of rotations, the angles within half a turn of those of a table."""
    euler, quaternion = channels(mode, turn, near[:, EULER], near[:, QUATERNION])
    euler += 2.0 * np.pi * np.rint((near[:, EULER] - euler) / (2.0 * np.pi))
    return np.concatenate([euler, quaternion], axis=1).astype(np.float32)


def _are_all_other(them: Standing) -> np.ndarray:
    """Which bricks (n,) have no component of their rotation as it was, nor all of them round: a view turned them."""
    found = np.zeros(len(them.mode), dtype=bool)
    for modes, group in ((them.mode > 0, EULER), (them.mode == 0, QUATERNION)):
        other = (them.own[:, group] != them.rest.own[:, group]).all(axis=1)  # a tilt of ours tells by its square
        found |= modes & other & ~_are_round(them.own[:, group], is_angle=True).all(axis=1)
    return found


def _are_round(values: np.ndarray, is_angle: bool = False) -> np.ndarray:
    """Which numbers have few digits, angles in radians or in degrees; large lengths, as in units of a millimetre, have
    no other digits beyond a few."""
    exact = values.astype(np.float64)
    if is_angle:
        found = exact.round(_DIGITS).astype(np.float32) == values
        return found | (np.radians(np.degrees(exact).round(_DIGITS_DEG)).astype(np.float32) == values)
    told = np.floor(np.log10(_BY_CHANCE / np.spacing(np.abs(values)).astype(np.float64)))
    unit = 10.0 ** np.clip(told, 0, _DIGITS)
    return (np.rint(exact * unit) / unit).astype(np.float32) == values


def _are_typed(values: np.ndarray) -> np.ndarray:
    """Which numbers have few digits where float32 has many: one in a thousand others has, by chance."""
    return _are_round(values) & (np.spacing(np.abs(values)) < 1e-3 * 10.0**-_DIGITS)


def _alike(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Which (n,) of two stacks are the same but for rounding."""
    axes = tuple(range(1, a.ndim))
    return (np.abs(a - b) <= _SAME * np.maximum(np.abs(a), 1.0 if a.ndim > 2 else np.abs(b))).all(axis=axes)
