"""Openings that other bricks lie in: the hole of a pin, the socket of a ball, the clip of a bar."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from . import interference, rigid
from .bricks import Bricks, Pieces
from .motions import Motions
from .near import near_pairs

CUT_MM = 0.05  # solids deeper in each other than this cut in the export, or one is an opening for the other

_DEEP_MM = 1.0  # boxes deeper in each other than this are looked at closely, and hulls deeper than a cut
_SLENDER = 1.5  # times as long as thick: a pin or a bar, which goes along its own axis
_ALONG = 0.999
_THROUGH_MM, _THROUGH = 0.35, 0.5  # a surface this deep in a solid, or this share of what overlaps, goes through it


def in_each_other(pieces: Pieces, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    """(P,) where boxes overlap so far that what fills them decides, or that one is an opening for the other."""
    rows = np.arange(len(i))
    for axis in (2, 0, 1):
        low, high = pieces.low[:, axis], pieces.high[:, axis]
        depth = np.minimum(high[i[rows]] - low[j[rows]], high[j[rows]] - low[i[rows]])
        hulled = (pieces.hull[i[rows]] > 0) | (pieces.hull[j[rows]] > 0)
        rows = rows[depth > np.where(hulled, CUT_MM, _DEEP_MM)]
    found = np.zeros(len(i), dtype=bool)
    found[rows] = True
    return found


@dataclass(frozen=True)
class Lodged:
    """Bricks that lie in an opening of another, each two once."""

    pair: np.ndarray  # (L, 2) the solids that lie deepest in each other; the first is what lies in the opening
    clearance: np.ndarray  # (L,) mm around it once bodies have shrunk; negative where it is pressed in

    def __len__(self) -> int:
        return len(self.pair)


def lodged(
    bricks: Bricks, pieces: Pieces, pair: np.ndarray, depth: np.ndarray, shrink: np.ndarray | None = None
) -> Lodged:
    """Among pairs of solids (P, 2), `depth` (P,) mm in each other, those by which a brick lies in another's opening:
    none of the other's surface goes through it. Two that truly cut are none."""
    at_rest = _Surfaces(bricks, pieces, None)
    shrunk = at_rest if shrink is None else _Surfaces(bricks, bricks.pieces(shrink), shrink)
    found = []
    for rows in _by_bricks(bricks, pieces, pair, depth):
        most = min(_THROUGH_MM, _THROUGH * depth[rows[0]])
        for inner, outer in (pair[rows[0]], pair[rows[0], ::-1]):
            if at_rest.depth(inner, outer) <= most:
                own = np.unique(pair[rows][pieces.brick[pair[rows]] == pieces.brick[inner]])
                found.append((inner, outer, -max(shrunk.depth(piece, outer) for piece in own)))
                break
    table = np.array(found, dtype=float).reshape(-1, 3)
    return Lodged(table[:, :2].astype(np.int64), table[:, 2])


def deeper(bricks: Bricks, pieces: Pieces, bodies: Pieces, motions: Motions, pairs: np.ndarray) -> np.ndarray:
    """How much deeper (P,) in mm than at rest the surface of the brick of each pair's second piece goes into the first,
    once bricks have moved: `pieces` shrunk at rest are then `bodies`."""
    found = np.empty(len(pairs))
    for n, (piece, outer) in enumerate(pairs.tolist()):
        brick = int(pieces.brick[outer])
        surface = _surface(bricks, brick, motions.shrink[brick])
        about = bricks.centre[brick]
        now = about + motions.shift[brick] + rigid.turned(motions.rotation[brick], surface - about)
        before = max(interference.pierced(pieces, piece, surface), 0.0)
        found[n] = interference.pierced(bodies, piece, now) - before
    return found


def _surface(bricks: Bricks, brick: int, factor: np.ndarray) -> np.ndarray:
    """The triangles (T, 3, 3) of a brick that has shrunk about its body's centre, at rest."""
    part, about = bricks.parts[bricks.part[brick]], bricks.centre_in_part[brick]
    corners = about + (part.vertices - about) * factor
    return bricks.origin[brick] + rigid.turned(bricks.turn[brick], corners[part.triangles])


def across(bricks: Bricks) -> np.ndarray:
    """(N, 3) along which of its part's axes a brick may not shrink, since it would take an opening away from what lies
    in it, or that out of the opening: all but the axis of a pin or a bar."""
    pieces = bricks.pieces()
    pair = near_pairs(pieces.low, pieces.high, -CUT_MM)
    pair = pair[pieces.brick[pair[:, 0]] != pieces.brick[pair[:, 1]]]
    pair = pair[in_each_other(pieces, *pair.T)]
    found = lodged(bricks, pieces, pair, interference.penetration(pieces, pair)).pair
    kept = np.zeros((len(bricks), 3), dtype=bool)
    half = pieces.half[found[:, 0]]
    longest, row = half.argmax(axis=1), np.arange(len(found))
    slender = half[row, longest] > _SLENDER * np.sort(half, axis=1)[:, 1]
    axis = pieces.turn[found[:, 0]][row, :, longest]
    for brick in pieces.brick[found].T:
        along = np.abs(rigid.turned(rigid.transpose(bricks.turn[brick]), axis)) > _ALONG
        np.logical_or.at(kept, brick, ~(along & slender[:, None]))
    return kept


def _by_bricks(bricks: Bricks, pieces: Pieces, pair: np.ndarray, depth: np.ndarray) -> Iterable[list[int]]:
    """Rows of the pairs that lie in each other, those of the same two bricks together, the deepest first; not of bricks
    that are there twice."""
    deep = np.flatnonzero(depth > CUT_MM)
    found: dict[tuple, list[int]] = {}
    for n in deep[np.argsort(-depth[deep], kind="stable")].tolist():
        first, second = sorted(pieces.brick[pair[n]].tolist())
        if bricks.key[first] != bricks.key[second]:
            found.setdefault((first, second), []).append(n)
    return found.values()


class _Surfaces:
    """How deep surfaces of bricks go into solids, each pose looked at once."""

    def __init__(self, bricks: Bricks, pieces: Pieces, shrink: np.ndarray | None):
        self.bricks, self.pieces, self.shrink = bricks, pieces, shrink
        self._told: dict[tuple, float] = {}

    def depth(self, piece: int, outer: int) -> float:
        """How deep (mm) the surface of the brick that `outer` is of goes into a piece."""
        bricks, pieces, brick = self.bricks, self.pieces, self.pieces.brick[outer]
        part, turn = bricks.parts[bricks.part[brick]], bricks.turn[brick]
        if not len(part.triangles):
            return np.inf
        back = rigid.transpose(pieces.turn[piece])
        way = rigid.turned(back, bricks.origin[brick] - pieces.centre[piece])
        factor = np.ones(3) if self.shrink is None else self.shrink[brick]
        of_piece = *pieces.half[piece], pieces.hull[piece]
        key = tuple(np.round((*of_piece, bricks.part[brick], *factor, *rigid.product(back, turn).ravel(), *way), 3))
        if key not in self._told:
            self._told[key] = interference.pierced(pieces, piece, _surface(bricks, brick, factor))
        return self._told[key]
