"""Openings that other bricks lie in: the hole of a pin, the socket of a ball, the clip of a bar."""

import numpy as np

from . import interference, rigid
from .bricks import Bricks, Pieces

DEEP_MM = 1.0  # solids deeper in each other than this are a pin in its hole or the like, or stand wrong

_THROUGH_MM = 0.35  # a surface this deep in a solid goes through it


def in_an_opening(bricks: Bricks, pieces: Pieces, pair: np.ndarray, gap: np.ndarray) -> np.ndarray:
    """(P,) where of two solids deep in each other, `gap` (P,) in mm, one lies in an opening of the other: none of the
    other's surface goes through it. Two that truly cut are held as they are."""
    inside, told = np.zeros(len(pair), dtype=bool), {}
    for n in np.flatnonzero(gap < -DEEP_MM):
        inner, outer = pair[n] if pieces.half[pair[n, 0]].prod() <= pieces.half[pair[n, 1]].prod() else pair[n, ::-1]
        other = pieces.brick[outer]
        part = bricks.parts[bricks.part[other]]
        if not len(part.triangles):
            continue
        back = rigid.transpose(pieces.turn[inner])
        way = rigid.turned(back, bricks.origin[other] - pieces.centre[inner])
        turn = rigid.product(back, bricks.turn[other])
        pose = *pieces.half[inner], pieces.hull[inner], bricks.part[other], *turn.ravel(), *way
        key = tuple(np.round(pose, 3))
        if key not in told:
            surface = bricks.origin[other] + rigid.turned(bricks.turn[other], part.vertices[part.triangles])
            told[key] = interference.pierced(pieces, inner, surface) <= _THROUGH_MM
        inside[n] = told[key]
    return inside
