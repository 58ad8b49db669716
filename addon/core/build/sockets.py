"""Which studs stand in the faces that bricks share."""

import numpy as np

from .. import rigid
from ..counts import within
from ..sizes import MET, TRADE
from .bricks import Bricks
from .touching import Contacts

SEAT_GAP_MM = 0.3  # a face this close above another stands on it

_AROUND = MET.stud_held * np.array([(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)], dtype=float)
_ON_RIM_MM = 1e-6


def on_grid(
    bricks: Bricks,
    a: np.ndarray,
    b: np.ndarray,
    axes: np.ndarray,
    place: np.ndarray,
    half: np.ndarray,
    seated: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How many studs (C,) stand in the shared faces of contacts, their middle (C, 2) and half span (C, 2) there.

    Contacts (C,) of bricks a and b: axes (C, 3, 3) with the normal last, place (C, 3) and half span (C, 2) of the
    shared face, and whether one is seated on the other.

    Only of those bricks that have a stud on every pitch, and in such as are one piece: where the shared face begins and
    ends tells them. Studs of a stand along the normal, those of b against it.
    """
    count, middle, span = np.zeros(len(a), dtype=np.int64), np.zeros((len(a), 2)), np.zeros((len(a), 2))
    for ends, others, sign in ((a, b, 1.0), (b, a, -1.0)):
        upright = sign * rigid.dot(axes[:, 2], bricks.stud_direction[ends]) > 0.999
        rows = np.flatnonzero(seated & upright & _told_by_faces(bricks, ends, others))
        if len(rows):
            found = _counted(bricks, ends[rows], axes[rows], place[rows], half[rows])
            held = rows[found[0] > 0]
            count[held], middle[held], span[held] = (each[found[0] > 0] for each in found)
    return count, middle, span


def _told_by_faces(bricks: Bricks, brick: np.ndarray, other: np.ndarray) -> np.ndarray:
    return bricks.full_grid[brick] & bricks.plain[other]


def _counted(bricks: Bricks, brick, axes, place, half):
    centre, size = bricks.centre[brick], bricks.half[brick]
    count, middle, span = np.ones(len(brick), dtype=np.int64), np.zeros((len(brick), 2)), np.zeros((len(brick), 2))
    for n in range(2):
        reach = (
            rigid.dot(np.abs(axes[:, n]), size)
            if (np.abs(axes[:, n]).max(axis=1) > 0.999).all()
            else _reach(bricks, brick, axes[:, n])
        )
        number = np.rint(2 * reach / TRADE.pitch)
        first = rigid.dot(axes[:, n], centre - place) - 0.5 * TRADE.pitch * (number - 1)
        low = np.maximum(np.ceil((-half[:, n] + MET.stud_held - first) / TRADE.pitch), 0)
        high = np.minimum(np.floor((half[:, n] - MET.stud_held - first) / TRADE.pitch), number - 1)
        count *= np.maximum(high - low + 1, 0).astype(np.int64)
        middle[:, n], span[:, n] = (
            first + 0.5 * TRADE.pitch * (low + high),
            0.5 * TRADE.pitch * np.maximum(high - low, 0),
        )
    return count, middle, span


def _reach(bricks: Bricks, brick, direction) -> np.ndarray:
    """How far bodies reach from their centres along a direction."""
    return rigid.dot(np.abs(rigid.turned(rigid.transpose(bricks.turn[brick]), direction)), bricks.half_in_part[brick])


def one_by_one(
    bricks: Bricks, touching: Contacts, flat: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Of some contacts, `flat` (F,), those (R,) in whose faces all other studs stand: how many (R,), their middle
    (R, 2) and half span (R, 2).

    A body of several pieces shares several faces: a stud is held where all of them together lie around it, by the one
    that its axis goes through.
    """
    rows, places = [], []
    for ends, others, sign in ((touching.a, touching.b, 1.0), (touching.b, touching.a, -1.0)):
        brick, other = ends[flat], others[flat]
        asked = flat[~_told_by_faces(bricks, brick, other) & bricks.studded[brick]]
        row, stud, at = _at_faces(bricks, ends[asked], touching, asked, sign)
        inside = (np.abs(at[:, None] + _AROUND) <= touching.half[row][:, None] + _ON_RIM_MM).all(axis=2)
        _, held = np.unique(np.stack([ends[row], others[row], stud]), axis=1, return_inverse=True)
        held = held.reshape(-1)
        covered = np.stack([np.bincount(held, point, minlength=1) > 0 for point in inside.T], axis=1).all(axis=1)
        own = np.flatnonzero(inside[:, 0] & covered[held])
        _, first = np.unique(held[own], return_index=True)
        rows.append(row[own[first]])
        places.append(at[own[first]])
    return _spans(np.concatenate(rows), np.concatenate(places))


def _at_faces(bricks: Bricks, brick: np.ndarray, touching: Contacts, rows: np.ndarray, sign: float):
    """Each stud of the bricks (R,) at the face of their contacts, `rows` (R,): contact, number of the stud, and where
    in the face (S, 2)."""
    every = [part.every_stud for part in bricks.parts]
    size = np.array([len(places) for places, _ in every])
    number, start = size[bricks.part[brick]], (np.cumsum(size) - size)[bricks.part[brick]]
    who = np.repeat(np.arange(len(brick)), number)
    own = within(number)
    stud, way = (np.concatenate(each)[start[who] + own] for each in zip(*every, strict=True))
    row, turn = rows[who], bricks.turn[brick[who]]
    axes = touching.frames[touching.frame[row]]
    arm = bricks.origin[brick[who]] + rigid.turned(turn, stud) - touching.place[row]
    at = rigid.turned(axes, arm)
    on_face = (np.abs(at[:, 2]) <= SEAT_GAP_MM) & (sign * rigid.dot(axes[:, 2], rigid.turned(turn, way)) > 0.999)
    return row[on_face], own[on_face], at[on_face, :2]


def _spans(rows: np.ndarray, places: np.ndarray):
    """Each of some rows once, how often it is there, and the middle and half span of its places (S, 2)."""
    rows, which = np.unique(rows, return_inverse=True)
    which = which.reshape(-1)
    low, high = np.full((len(rows), 2), np.inf), np.full((len(rows), 2), -np.inf)
    np.minimum.at(low, which, places)
    np.maximum.at(high, which, places)
    return rows, np.bincount(which, minlength=len(rows)), 0.5 * (low + high), 0.5 * (high - low)
