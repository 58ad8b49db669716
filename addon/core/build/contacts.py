"""Which bricks touch, where, and what holds what: the joints, seats and seams of a build at rest."""

from collections.abc import Iterable

import numpy as np

from .. import rigid, threads
from ..near import among, near_pairs
from . import askew, interference, openings, sockets
from .bricks import Bricks, Pieces
from .openings import CUT_MM, MISFIT_MM
from .sockets import SEAT_GAP_MM
from .touching import CORNER, JOINT, LODGED, REST, SIDE, Contacts

NEAR_MM = 0.6  # bricks farther apart never meet
OVERLAP_MM = 1.0  # less than this of shared face is a corner meeting a corner
_CHUNK = threads.CHUNK // 4  # pairs looked at together
_ALONG = np.eye(3)[[[1, 2, 0], [2, 0, 1], [0, 1, 2]]]  # a contact's axes where its normal is the build's x, y or z


def contacts(bricks: Bricks, shrink: np.ndarray | None = None) -> Contacts:
    """All contacts of a build at rest; gaps are those that remain once bodies have shrunk by `shrink` (N, 3)."""
    pieces = bricks.pieces()
    low, high = pieces.low, pieces.high
    pair = near_pairs(low, high, NEAR_MM)
    pair = pair[pieces.brick[pair[:, 0]] != pieces.brick[pair[:, 1]]]
    deep = openings.in_each_other(pieces, *pair.T)
    shrunk = pieces if shrink is None else bricks.pieces(shrink)
    lodged = _lodged(bricks, pieces, shrunk, shrink, openings.of_build(bricks) if deep.any() else openings.NONE)
    lies_in = np.stack([lodged.a, lodged.b], axis=1)
    open_ = ~among(pieces.brick[pair], lies_in)
    upright = pieces.aligned[pair[:, 0]] & pieces.aligned[pair[:, 1]] & ~deep
    chunks = [
        (between, pairs[part])
        for between, pairs in ((_between_upright, pair[upright & open_]), (_between_turned, pair[~upright & open_]))
        for part in threads.slices(len(pairs), _CHUNK)
    ]
    found = threads.each(lambda chunk: chunk[0](bricks, pieces, shrunk, chunk[1]), chunks)
    return _with_single_studs(bricks, _joined([*found, lodged], len(pair) + len(lodged)))


def _with_single_studs(bricks: Bricks, found: Contacts) -> Contacts:
    """The same with the joints of those studs that had to be looked up one by one."""
    flat = np.flatnonzero((found.kind <= SIDE) & (np.abs(found.gap) <= SEAT_GAP_MM))
    rows, *of_studs = sockets.one_by_one(bricks, found, flat)
    found.kind[rows] = JOINT
    for values, more in zip((found.studs, found.stud_middle, found.stud_half), of_studs, strict=True):
        values[rows] = more
    return found


def depth_at_rest(pieces: Pieces, touching: Contacts) -> np.ndarray:
    """How deep (K,) in mm the pieces of each contact lie in each other where they stand; 0 for none, without end for
    those in an opening: of these, play alone tells how far they may go."""
    depth, cut = np.where(touching.kind == LODGED, np.inf, 0.0), np.flatnonzero(touching.gap < 0)
    pairs = np.stack([touching.piece_a[cut], touching.piece_b[cut]], axis=1)
    depth[cut] = np.maximum(interference.penetration(pieces, pairs), 0.0)
    return depth


def _joined(found: Iterable[Contacts], most: int) -> Contacts:
    """All of them, at most `most`, each put in its place as it is found: kept to the end they take twice the room."""
    room: dict[str, np.ndarray] = {}
    frames, start, framed = [_ALONG], 0, len(_ALONG)
    for each in found:
        stop = start + len(each)
        for name, values in each.columns.items():
            if name not in room:
                room[name] = np.empty((most, *values.shape[1:]), dtype=values.dtype)
            room[name][start:stop] = values
        own = room["frame"][start:stop]
        own[own >= len(_ALONG)] += framed - len(_ALONG)
        frames.append(each.frames[len(_ALONG) :])
        start, framed = stop, framed + len(frames[-1])
    return Contacts(**{name: values[:start] for name, values in room.items()}, frames=np.concatenate(frames))


def _between_upright(bricks: Bricks, pieces: Pieces, shrunk: Pieces, pair: np.ndarray) -> Contacts:
    """Contacts of boxes whose faces follow the build's axes."""
    i, j = pair.T
    gaps = _gaps(pieces, i, j)
    axis = gaps.argmax(axis=1)
    misfit = np.flatnonzero(_along(gaps, axis) < -MISFIT_MM)
    # They are kept apart where least of them is left to lie in each other.
    axis[misfit] = _gaps(shrunk, i[misfit], j[misfit]).argmax(axis=1)
    beyond = _along(pieces.centre[j] - pieces.centre[i], axis) > 0
    first, second = np.where(beyond, i, j), np.where(beyond, j, i)
    x, y = (axis + 1) % 3, (axis + 2) % 3
    low, high = np.maximum(shrunk.low[first], shrunk.low[second]), np.minimum(shrunk.high[first], shrunk.high[second])
    deep = np.flatnonzero(_along(gaps, axis) < -CUT_MM)
    smaller = _smaller(pieces, first[deep], second[deep])
    level = _along(0.5 * (low + high), axis)
    low[deep], high[deep] = shrunk.low[smaller], shrunk.high[smaller]
    place, half = 0.5 * (low + high), np.maximum(0.5 * (high - low), 0.0)
    np.put_along_axis(place, axis[:, None], level[:, None], axis=1)
    return _described(
        bricks,
        pieces,
        first,
        second,
        axis,
        _ALONG,
        place,
        np.stack([_along(half, x), _along(half, y)], axis=1),
        _along(shrunk.low[second] - shrunk.high[first], axis),
        (_along(gaps, x) < -OVERLAP_MM) & (_along(gaps, y) < -OVERLAP_MM),
        _along(gaps, axis),
    )


def _gaps(pieces: Pieces, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    """How far (P, 3) boxes are apart along each axis; negative where they overlap."""
    return np.maximum(pieces.low[j] - pieces.high[i], pieces.low[i] - pieces.high[j])


def _smaller(pieces: Pieces, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    """Which (P,) of two pieces is smaller: where they lie deep in each other, all of its face decides how deep."""
    return np.where(pieces.half[i].prod(axis=1) <= pieces.half[j].prod(axis=1), i, j)


def _between_turned(bricks: Bricks, pieces: Pieces, shrunk: Pieces, pair: np.ndarray) -> Contacts:
    """Contacts of boxes at an angle to the build, in the axes of the first; the shared face is a box around it."""
    key = bricks.key[pieces.brick[pair]]
    i, j = np.where((key[:, 0] > key[:, 1])[:, None], pair[:, ::-1], pair).T  # whatever the order of the table
    own = pieces.turn[i]
    other = rigid.product(rigid.transpose(own), pieces.turn[j])

    def intervals(of: Pieces):
        away = rigid.turned(rigid.transpose(own), of.centre[j] - of.centre[i])
        reach = rigid.turned(np.abs(other), of.half[j])
        low, high = away - reach, away + reach
        gaps = np.maximum(low - of.half[i], -of.half[i] - high)
        return np.maximum(-of.half[i], low), np.minimum(of.half[i], high), gaps

    low, high, gaps = intervals(pieces)
    axis, beyond = gaps.argmax(axis=1), low + high > 0
    faced = np.abs(np.take_along_axis(other, axis[:, None, None], axis=1)[:, 0]).max(axis=1) > 0.999
    gap = _along(gaps, axis)
    apart = (gap > -CUT_MM) & (gap <= NEAR_MM) & faced
    odd = ~(faced & (gap > -CUT_MM)) & (gap <= NEAR_MM)
    edges = _between_askew(bricks, pieces, shrunk, np.stack([i[odd], j[odd]], axis=1))
    low, high, left = (each[apart] for each in intervals(shrunk))
    i, j, own, axis, gaps = i[apart], j[apart], own[apart], axis[apart], gaps[apart]
    sign = np.where(_along(beyond[apart], axis), 1.0, -1.0)
    x, y = np.where(sign > 0, (axis + 1) % 3, (axis + 2) % 3), np.where(sign > 0, (axis + 2) % 3, (axis + 1) % 3)
    columns = rigid.transpose(own)
    row = np.arange(len(axis))
    axes = np.stack([columns[row, x], columns[row, y], sign[:, None] * columns[row, axis]], axis=1)
    half = np.maximum(0.5 * (high - low), 0.0)
    faced = _described(
        bricks,
        pieces,
        i,
        j,
        len(_ALONG) + row,
        np.concatenate([_ALONG, axes]),
        shrunk.centre[i] + rigid.turned(own, 0.5 * (low + high)),
        np.stack([_along(half, x), _along(half, y)], axis=1),
        _along(left, axis),
        (_along(gaps, x) < -OVERLAP_MM) & (_along(gaps, y) < -OVERLAP_MM),
        _along(gaps, axis),
    )
    return _joined([faced, edges], len(faced) + len(edges))


def _between_askew(bricks: Bricks, pieces: Pieces, shrunk: Pieces, pair: np.ndarray) -> Contacts:
    """Contacts of solids no faces of which look at each other, or that lie in each other, whatever keeps them apart."""
    gap, normal = askew.gaps(pieces, pair)
    near = gap <= NEAR_MM
    pair, gap, normal = pair[near], gap[near], normal[near]
    hulled = (pieces.hull[pair] > 0).any(axis=1)  # shrinking turns their faces a little
    _, normal[hulled] = askew.gaps(shrunk, pair[hulled])
    met = askew.askew(shrunk, pair, normal)
    facing = np.zeros(len(pair), dtype=bool)
    i, j = pair.T
    frame, frames = len(_ALONG) + np.arange(len(pair)), np.concatenate([_ALONG, met.axes])
    return _described(bricks, pieces, i, j, frame, frames, met.place, met.half, met.gap, facing, gap)


def _lodged(bricks: Bricks, pieces: Pieces, shrunk: Pieces, shrink, found: openings.Lodged) -> Contacts:
    """Contacts of bricks one of which lies in an opening of the other: two, at the ends of what lies in it, along the
    longest side of that."""
    pair = found.pair
    inner, outer = pair.T
    turn = pieces.turn[inner]
    back = rigid.transpose(turn)
    away = rigid.turned(back, pieces.centre[outer] - pieces.centre[inner])
    reach = rigid.turned(np.abs(rigid.product(back, pieces.turn[outer])), pieces.half[outer])
    low, high = np.maximum(away - reach, -pieces.half[inner]), np.minimum(away + reach, pieces.half[inner])
    along, row = pieces.half[inner].argmax(axis=1), np.arange(len(pair))
    axes = np.stack([back[row, (along + n) % 3] for n in (1, 2, 0)], axis=1)
    places = []
    for end in (low, high):
        at = 0.5 * (low + high)
        at[row, along] = end[row, along]
        places.append(pieces.centre[inner] + rigid.turned(turn, at))
    twice, none = np.tile(row, 2), np.zeros((2 * len(pair), 2))
    across = np.stack([pieces.half[inner, (along + n) % 3] for n in (1, 2)], axis=1).max(axis=1)
    around = np.repeat((across / 2.0**0.5)[twice, None], 2, axis=1)  # turned about its axis its surface moves too
    a, b, i, j = (each[twice].astype(np.int32) for each in (*pieces.brick[pair.T], *pair.T))
    kind, studs = np.full(len(twice), LODGED, dtype=np.int8), np.ones(len(twice), dtype=np.int32)
    frame = (len(_ALONG) + twice).astype(np.int32)
    frames = np.concatenate([_ALONG, axes])
    place, gap = np.concatenate(places), np.maximum(found.clearance(bricks, shrunk, shrink), 0.0)[twice]
    return Contacts(a, b, i, j, kind, frame, place, none, gap, studs, none, around, frames)


def _described(bricks, pieces, first, second, frame, frames, place, half, gap, facing, gap_at_rest) -> Contacts:
    a, b, axes = pieces.brick[first], pieces.brick[second], frames.take(frame, axis=0)
    seated = facing & (np.abs(gap_at_rest) <= SEAT_GAP_MM)
    studs, middle, span = sockets.on_grid(bricks, a, b, axes, place, half, seated)
    upright = np.abs(axes[:, 2, 2]) > 0.999
    kind = np.select([studs > 0, seated & upright, facing], [JOINT, REST, SIDE], CORNER)
    a, b, first, second, frame, studs = (each.astype(np.int32) for each in (a, b, first, second, frame, studs))
    return Contacts(a, b, first, second, kind.astype(np.int8), frame, place, half, gap, studs, middle, span, frames)


def _along(vectors: np.ndarray, axis: np.ndarray) -> np.ndarray:
    return np.take_along_axis(vectors, axis[:, None], axis=1)[:, 0]
