"""Which places a ball can touch from outside, as a fingertip does: where it lies against a surface, nothing else is in
its way."""

import numpy as np

from ... import rigid, threads
from ...build.bricks import Pieces
from ...counts import within
from ...near import cell_number, entered

_CELL_MM = 16.0
_GIVES_MM = 0.3  # skin does: a step between neighbours as small as this keeps no finger away
_AT_ONCE = 1 << 15  # balls
_MOST_PAIRS = 1 << 20


def touched(place: np.ndarray, normal: np.ndarray, pieces: Pieces, diameter_mm: float) -> np.ndarray:
    """Whether a ball of that diameter touches each place (P,) of a surface, at places (P, 3) with unit normals."""
    radius = 0.5 * diameter_mm
    near = _Near(pieces, radius)
    return threads.joined(lambda some: _free(near, place[some] + radius * normal[some], radius), len(place), _AT_ONCE)


class _Near:
    """Pieces by the cells that a ball which meets them may have its middle in."""

    def __init__(self, pieces: Pieces, radius_mm: float) -> None:
        low, high = pieces.low - radius_mm, pieces.high + radius_mm
        self.pieces, self.origin = pieces, low.min(axis=0)
        self.centre, self.reach = rigid.across(pieces.centre), rigid.across(pieces.reach)
        first, last = (np.floor((each - self.origin) / _CELL_MM).astype(np.int64) for each in (low, high))
        self.across = last.max(axis=0) + 1
        self.cell, self.piece = entered(first, last, self.across)

    def of(self, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where in `piece` those of each place's cell begin, and where they end."""
        at = np.floor((places - self.origin) / _CELL_MM).astype(np.int64)
        cell = np.where(
            ((at >= 0) & (at < self.across)).all(axis=1), cell_number(at[:, 0], at[:, 1], at[:, 2], self.across), -1
        )
        start, stop = (np.searchsorted(self.cell, cell, side) for side in ("left", "right"))
        return start, stop


def _free(near: _Near, middle: np.ndarray, radius: float) -> np.ndarray:
    start, stop = near.of(middle)
    free, ends, across = np.ones(len(middle), dtype=bool), np.cumsum(stop - start), rigid.across(middle)
    begin = 0
    while begin < len(middle):
        before = ends[begin - 1] if begin else 0
        end = max(int(np.searchsorted(ends, before + _MOST_PAIRS)), begin + 1)
        count = (stop - start)[begin:end]
        ball = np.repeat(np.arange(begin, end), count)
        piece = near.piece[start[ball] + within(count)]
        for axis in range(3):  # most are apart along the first already
            apart = np.abs(across[axis].take(ball) - near.centre[axis].take(piece))
            met = apart < near.reach[axis].take(piece) + (radius - _GIVES_MM)
            ball, piece = ball[met], piece[met]
        close = _close(near.pieces, middle[ball] - near.pieces.centre[piece], piece, radius - _GIVES_MM)
        free[ball[close]] = False
        begin = end
    return free


def _close(pieces: Pieces, away: np.ndarray, piece: np.ndarray, radius: float) -> np.ndarray:
    """Whether pieces (K,) come nearer than a radius to places that are so far (K, 3) from their middles."""
    own = rigid.turned(rigid.transpose(pieces.turn[piece]), away)
    out = np.maximum(np.abs(own) - pieces.half[piece], 0.0)
    near = rigid.dot(out, out) < radius * radius
    for kind in np.unique(pieces.hull[piece[near]]):
        if kind:
            some = np.flatnonzero(near & (pieces.hull[piece] == kind))
            near[some] = _beyond(pieces, away[some], piece[some]) < radius
    return near


def _beyond(pieces: Pieces, away: np.ndarray, piece: np.ndarray) -> np.ndarray:
    """How far (K,) from pieces of one hull places lie that are so far (K, 3) from their middles: beyond the plane of a
    face, the farthest, which over an edge is a little less."""
    hull, own = pieces.hulls[pieces.hull[piece[0]]], rigid.turned(rigid.transpose(pieces.turn[piece]), away)
    planes = hull.normals[None] / pieces.half[piece, None]
    length = np.sqrt((planes * planes).sum(axis=-1))
    ends = (hull.corners @ hull.normals.T).max(axis=0)
    return (((planes * own[:, None]).sum(axis=-1) - ends) / length).max(axis=1)
