"""Bricks that cut into each other in the export itself, or do not quite fit."""

import numpy as np

from .. import rigid
from ..near import among, near_pairs
from . import interference, openings
from .bricks import Bricks
from .openings import CUT_MM, MISFIT_MM
from .touching import JOINT, Contacts

_ALONG = 0.999  # cosine between a contact's normal and the axis of a part that it goes along


def cut_pairs(bricks: Bricks) -> np.ndarray:
    """Pairs (P, 2) of bricks whose bodies cut into each other at rest; an equal brick in the same place is none, nor is
    one that lies in an opening of the other."""
    pair, depth = misfits(bricks, CUT_MM)
    return pair[depth > CUT_MM]


def misfits(bricks: Bricks, deeper: float = MISFIT_MM) -> tuple[np.ndarray, np.ndarray]:
    """The same pairs, of all that lie `deeper` (mm) in each other than that, and how deep (P,) they do."""
    pieces = bricks.pieces()
    near = near_pairs(pieces.low, pieces.high, -deeper)
    near = near[bricks.key[pieces.brick[near[:, 0]]] != bricks.key[pieces.brick[near[:, 1]]]]
    depth = interference.penetration(pieces, near)
    deep = depth > deeper
    found, which = np.unique(pieces.brick[near[deep]], axis=0, return_inverse=True)
    deepest = np.zeros(len(found))
    np.maximum.at(deepest, which.reshape(-1), depth[deep])
    apart = ~among(found, pieces.brick[openings.lodged(bricks, pieces, near, depth).pair])
    return found[apart], deepest[apart]


def standing_open(bricks: Bricks, contacts: Contacts) -> np.ndarray:
    """(K,) which contacts are joints whose seats do not meet in the export."""
    return (contacts.kind == JOINT) & (contacts.gap > MISFIT_MM) & ~on_walls(bricks, contacts)


def on_walls(bricks: Bricks, contacts: Contacts) -> np.ndarray:
    """(K,) which contacts lie on a wall of one of their bricks, which a mould takes its clearance from."""
    normal = contacts.frames[:, 2].take(contacts.frame, axis=0)
    found = np.zeros(len(contacts), dtype=bool)
    for end in (contacts.a, contacts.b):
        along = np.abs(rigid.turned(rigid.transpose(bricks.turn[end]), normal)) > _ALONG
        found |= (along & bricks.is_wall[end]).any(axis=1)
    return found
