"""Bricks in a heap: each lies in others that all lie in as many, as where a place was typed for all that were selected.

In a graph's words the 3-core of what lies deep in each other.
"""

import numpy as np

from .touching import Contacts

_DEEP_MM = 1.0  # bodies that do not fit, or were pressed together by some percent, lie less deep in each other
_MANY = 3  # others: two in one place, or three, still part from what is around them; of four in one place none can


def heaped(touching: Contacts, bricks: int) -> np.ndarray:
    """Which of some bricks lie in a heap. What sits in an opening lies in none."""
    deep = np.flatnonzero(touching.gap < -_DEEP_MM)
    return core(np.stack([touching.a[deep], touching.b[deep]], axis=1), bricks, _MANY)


def core(pairs: np.ndarray, bricks: int, many: int) -> np.ndarray:
    """Which of some bricks are paired with at least so many others that all are, by pairs (P, 2)."""
    if len(pairs) < many:
        return np.zeros(bricks, dtype=bool)
    each = np.unique(pairs.min(axis=1).astype(np.int64) * bricks + pairs.max(axis=1))  # they may meet by several pieces
    ends = np.stack(np.divmod(each, bricks), axis=1)
    while True:
        found = np.bincount(ends.ravel(), minlength=bricks) >= many
        among = found[ends].all(axis=1)
        if among.all():
            return found
        ends = ends[among]
