"""Bricks that cut into each other in the export itself."""

import numpy as np

from ..near import among, near_pairs
from . import interference, openings
from .bricks import Bricks
from .openings import CUT_MM


def cut_pairs(bricks: Bricks) -> np.ndarray:
    """Pairs (P, 2) of bricks whose bodies cut into each other at rest; an equal brick in the same place is none, nor is
    one that lies in an opening of the other."""
    pieces = bricks.pieces()
    near = near_pairs(pieces.low, pieces.high, -CUT_MM)
    near = near[bricks.key[pieces.brick[near[:, 0]]] != bricks.key[pieces.brick[near[:, 1]]]]
    depth = interference.penetration(pieces, near)
    found = np.unique(pieces.brick[near[depth > CUT_MM]], axis=0)
    return found[~among(found, pieces.brick[openings.lodged(bricks, pieces, near, depth).pair])]
