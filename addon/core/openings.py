"""Openings that other bricks lie in: the hole of a pin, the socket of a ball, the clip of a bar."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from . import interference, rigid
from .bricks import Bricks, Pieces

CUT_MM = 0.05  # solids deeper in each other than this cut in the export, or one is an opening for the other

_THROUGH_MM, _THROUGH = 0.35, 0.5  # a surface this deep in a solid, or this share of what overlaps, goes through it


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
            about = bricks.centre_in_part[brick]
            corners = about + (part.vertices - about) * factor
            surface = bricks.origin[brick] + rigid.turned(turn, corners[part.triangles])
            self._told[key] = interference.pierced(pieces, piece, surface)
        return self._told[key]
