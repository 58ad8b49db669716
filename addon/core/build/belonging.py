"""Which things of a collection are bricks of the build: told by what they are like and by what holds them.

A brick has studs or the sizes of the lattice, or is the same part as one, or bricks hold it. What is none of that
(the ground, a table, a ball, a figure, a flag) is left alone. What the artist says of a thing goes before all.
"""

import numpy as np

from ..near import near_pairs
from ..parts.likeness import SHEET, SIZED, STUDDED
from ..remembered import digest, remembered
from ..sizes import TRADE
from .bricks import Bricks
from .contacts import NEAR_MM, contacts
from .cuts import cut_pairs
from .lattice import NOMINAL_MM, Lattice
from .touching import JOINT, LODGED, REST, SIDE

IN, UNSAID, OUT = 1, 0, -1  # the artist's word

LARGEST_HELD_MM = (
    16 * TRADE.pitch
)  # a longer thing is held by studs alone: a pole or a cable that touches bricks may be anything
LARGEST_LYING_MM = TRADE.pitch  # a thing that only lies on a brick and is no larger is one of its decorations
FEW = 3  # smooth things that measure like bricks; fewer may do so by chance
MOST = 0.4  # share of the things that must measure like bricks where no stud shows


def belonging(things: Bricks, kind: np.ndarray, word: np.ndarray, found: Lattice, is_known: bool = False) -> np.ndarray:
    """Which things (N,) are bricks; none where the things are no brick build.

    `kind` (N,) is their likeness, `word` (N,) what the artist says of each; `is_known` where they were found to be a
    build before, and one brick that is left of it is enough.
    """
    like = (kind >= SIZED) & (word != OUT)
    is_build = (word == IN).any() or (like.any() if is_known else _is_build(kind[like], len(things), found))
    if not is_build:
        return np.zeros(len(things), dtype=bool)
    bricks, out = like | (word == IN), word == OUT
    if (bricks | out).all():
        return bricks
    told = digest(things.key, kind, word)
    return remembered("belonging", told, lambda: _spread(things, kind, bricks, out))


def _is_build(like: np.ndarray, count: int, found: Lattice) -> bool:
    """Whether the lattice shows: in a stud, in most things' sizes, or in a few at a scale that nobody guessed."""
    if (like == STUDDED).any():
        return True
    if len(like) < max(FEW, MOST * count):
        named = min(abs(found.mm_per_unit / mm - 1.0) for mm in NOMINAL_MM.values()) < 1e-3
        return named and len(like) >= max(1, MOST * count)
    return found.share_on_lattice > 0


def _spread(things: Bricks, kind: np.ndarray, bricks: np.ndarray, out: np.ndarray) -> np.ndarray:
    """All that are bricks (N,): those that are, what is one part with them, what these hold, and so on."""
    holds = _holds(things, kind, ~bricks & ~out)
    while True:
        of_part = np.zeros(len(things.parts), dtype=bool)
        of_part[things.part[bricks]] = True
        more = of_part[things.part]
        for one, other in (holds.T, holds.T[::-1]):
            more[other[bricks[one]]] = True
        more = (more | bricks) & ~out
        if (more == bricks).all():
            return bricks
        bricks = more


def _holds(things: Bricks, kind: np.ndarray, open_: np.ndarray) -> np.ndarray:
    """Pairs (K, 2) of things that hold each other, of those that are still `open_` (N,) and those near them."""
    low, high = things.low, things.high
    near = near_pairs(low, high, NEAR_MM)
    near = near[open_[near].any(axis=1)]
    rows = np.unique(near)
    if not len(rows):
        return near
    size = 2.0 * things.half_in_part[rows].max(axis=1)
    room = things.only(rows)
    met = contacts(room)
    solid = kind[rows] != SHEET
    firm = solid & ((size <= LARGEST_HELD_MM) | ~open_[rows])
    minute = solid & ((size <= LARGEST_LYING_MM) | ~open_[rows])

    def between(pairs: np.ndarray, fit: np.ndarray) -> np.ndarray:
        return pairs[fit[pairs].all(axis=1)]

    def of_kind(kind: int) -> np.ndarray:
        chosen = met.of_kind(kind)
        return np.stack([chosen.a, chosen.b], axis=1).astype(np.int64)

    by_studs, lying = between(of_kind(JOINT), solid), between(of_kind(REST), minute)
    in_each_other = [between(pairs, firm) for pairs in (of_kind(LODGED), cut_pairs(room), of_kind(SIDE))]
    return rows[np.concatenate([by_studs, lying, *in_each_other])]
