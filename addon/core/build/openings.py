"""Openings that other bricks lie in: the hole of a pin, the socket of a ball, the clip of a bar."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from .. import rigid
from ..near import near_pairs
from ..remembered import remembered
from . import heaps, identity, interference
from .bricks import Bricks, Pieces

MISFIT_MM = 5e-3  # solids deeper in each other than this do not fit; it is more than what exports round off
CUT_MM = 0.05  # solids deeper in each other than this cut in the export, or one is an opening for the other

_DEEP_MM = 1.0  # boxes deeper in each other than this are looked at closely, and hulls deeper than a cut
_SLENDER = 1.5  # times as long as thick: a pin or a bar, which goes along its own axis
_ALONG = 0.999
_HEAP = 12  # bricks that lie in so many others that all do lie in a heap, and in no opening
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
    passing: np.ndarray  # (M, 2) all solids of what lies in an opening that are deep in one of the other
    which: np.ndarray  # (M,) of the L

    def __len__(self) -> int:
        return len(self.pair)

    def clearance(self, bricks: Bricks, pieces: Pieces, shrink: np.ndarray | None) -> np.ndarray:
        """How much (L,) in mm is free around each once bodies have shrunk, the `pieces` too; negative where it is
        pressed in."""
        surfaces = _Surfaces(bricks, pieces, self.passing, shrink)
        free = np.full(len(self), np.inf)
        np.minimum.at(free, self.which, [-surfaces.depth(n, 0) for n in range(len(self.passing))])
        return free


NONE = Lodged(np.zeros((0, 2), np.int64), np.zeros((0, 2), np.int64), np.zeros(0, np.int64))


def of_build(bricks: Bricks) -> Lodged:
    """All in a build at rest."""

    def found() -> Lodged:
        pieces = bricks.pieces()
        pair = near_pairs(pieces.low, pieces.high, -CUT_MM)
        pair = pair[pieces.brick[pair[:, 0]] != pieces.brick[pair[:, 1]]]
        pair = pair[in_each_other(pieces, *pair.T)]
        return lodged(bricks, pieces, pair, _depths(pieces, pair))

    return remembered("openings", bricks.told, found)


def _depths(pieces: Pieces, pair: np.ndarray) -> np.ndarray:
    """As `interference.penetration`, that of pairs (P, 2) which lie alike worked out once."""
    i, j = pair.T
    back = rigid.transpose(pieces.turn[i])
    lies = rigid.product(back, pieces.turn[j]), rigid.turned(back, pieces.centre[j] - pieces.centre[i])
    first, alike = _alike(pieces.half[i], pieces.hull[i], pieces.half[j], pieces.hull[j], *lies)
    return interference.penetration(pieces, pair[first])[alike]


def _alike(*told: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows (U,) of arrays (P, ...), one of each kind that is alike to a micrometre, and which of these (P,) all are."""
    columns = [each.reshape(len(each), -1) if len(each) else np.zeros((0, 1)) for each in told]
    table = np.rint(1e3 * np.concatenate(columns, axis=1)).astype(np.int64)
    _, first, alike = np.unique(identity.chained(table), return_index=True, return_inverse=True)
    return first, alike.reshape(-1)


def lodged(bricks: Bricks, pieces: Pieces, pair: np.ndarray, depth: np.ndarray) -> Lodged:
    """Among pairs of solids (P, 2), `depth` (P,) mm in each other, those by which a brick lies in another's opening:
    none of the other's surface goes through it. Two that truly cut are none."""
    deep = depth > CUT_MM
    deep[deep] = ~heaps.core(pieces.brick[pair[deep]], len(bricks), _HEAP)[pieces.brick[pair[deep]]].all(axis=1)
    pair, depth, brick = pair[deep], depth[deep], pieces.brick[pair[deep]]
    surfaces = _Surfaces(bricks, pieces, pair, None)
    found, passing, which = [], [], []
    for rows in _by_bricks(bricks, brick, depth):
        most = min(_THROUGH_MM, _THROUGH * depth[rows[0]])
        for end in range(2):
            if surfaces.depth(rows[0], end) <= most:
                ends = [end if brick[n, end] == brick[rows[0], end] else 1 - end for n in rows]
                own = {pair[n, one]: (pair[n, one], pair[n, 1 - one]) for n, one in zip(rows, ends, strict=True)}
                which += [len(found)] * len(own)
                found.append((pair[rows[0], end], pair[rows[0], 1 - end]))
                passing += own.values()
                break
    of_two = [np.array(each, dtype=np.int64).reshape(-1, 2) for each in (found, passing)]
    return Lodged(of_two[0], of_two[1], np.array(which, dtype=np.int64))


def surface(bricks: Bricks, brick: int, factor: np.ndarray) -> np.ndarray:
    """The triangles (T, 3, 3) of a brick that has shrunk about its body's centre, at rest."""
    part, about = bricks.parts[bricks.part[brick]], bricks.centre_in_part[brick]
    corners = about + (part.vertices - about) * factor
    return bricks.origin[brick] + rigid.turned(bricks.turn[brick], corners[part.triangles])


def across(bricks: Bricks) -> np.ndarray:
    """(N, 3) along which of its part's axes a brick may not shrink, since it would take an opening away from what lies
    in it, or that out of the opening: all but the axis of a pin or a bar."""
    found, kept = of_build(bricks).pair, np.zeros((len(bricks), 3), dtype=bool)
    if not len(found):
        return kept
    pieces = bricks.pieces()
    half = pieces.half[found[:, 0]]
    longest, row = half.argmax(axis=1), np.arange(len(found))
    slender = half[row, longest] > _SLENDER * np.sort(half, axis=1)[:, 1]
    axis = pieces.turn[found[:, 0]][row, :, longest]
    for brick in pieces.brick[found].T:
        along = np.abs(rigid.turned(rigid.transpose(bricks.turn[brick]), axis)) > _ALONG
        np.logical_or.at(kept, brick, ~(along & slender[:, None]))
    return kept


def _by_bricks(bricks: Bricks, brick: np.ndarray, depth: np.ndarray) -> Iterable[list[int]]:
    """Rows of the pairs of bricks (P, 2) that lie in each other, those of the same two together, the deepest first; not
    of bricks that are there twice."""
    found: dict[tuple, list[int]] = {}
    twice = bricks.key[brick[:, 0]] == bricks.key[brick[:, 1]]
    two = np.sort(brick, axis=1).tolist()
    for n in np.argsort(-depth, kind="stable").tolist():
        if not twice[n]:
            found.setdefault((two[n][0], two[n][1]), []).append(n)
    return found.values()


class _Surfaces:
    """How deep surfaces of bricks go into solids, of pairs (P, 2) of these; those that lie alike looked at once."""

    def __init__(self, bricks: Bricks, pieces: Pieces, pair: np.ndarray, shrink: np.ndarray | None):
        self.bricks, self.pieces, self.pair = bricks, pieces, pair
        self.shrink = np.ones((len(bricks), 3)) if shrink is None else shrink
        piece, brick = pair.T.ravel(), pieces.brick[pair[:, ::-1].T.ravel()]
        back = rigid.transpose(pieces.turn[piece])
        lies = rigid.product(back, bricks.turn[brick]), rigid.turned(back, bricks.origin[brick] - pieces.centre[piece])
        solid = pieces.half[piece], pieces.hull[piece]
        _, alike = _alike(*solid, bricks.part[brick], self.shrink[brick], *lies)
        self._alike = alike.reshape(2, -1).tolist()
        self._told: dict[int, float] = {}

    def depth(self, row: int, end: int) -> float:
        """How deep (mm) the surface of the brick of one solid of a pair goes into the other, that at `end`."""
        alike = self._alike[end][row]
        if alike not in self._told:
            piece, outer = self.pair[row, end], self.pair[row, 1 - end]
            brick = self.pieces.brick[outer]
            if not len(self.bricks.parts[self.bricks.part[brick]].triangles):
                return np.inf
            body = surface(self.bricks, brick, self.shrink[brick])
            self._told[alike] = interference.pierced(self.pieces, piece, body)
        return self._told[alike]
