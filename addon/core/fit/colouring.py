"""Colours for contacts, so that contacts of one colour share no moving brick and can be met at once.

Each contact has a priority of its own, from the identity of its two bricks; the highest around takes the first colour
free at both ends (Jones, Plassmann: A parallel graph coloring heuristic, 1993). A contact's colour so depends on a few
neighbours and not on the order or size of the build.
"""

import numpy as np

from ..draws import mixed

MOST = 63  # colours; no brick has that many contacts but a base plate, which does not move


def priorities(keys: np.ndarray, a: np.ndarray, b: np.ndarray, kind: np.ndarray) -> np.ndarray:
    """(K,) numbers that belong to contacts of `kind` (K,) between bricks of these keys, whichever comes first."""
    first, second = np.minimum(keys[a], keys[b]), np.maximum(keys[a], keys[b])
    return mixed(mixed(first) ^ mixed(second + np.asarray(kind, dtype=np.uint64)))


def colours(a: np.ndarray, b: np.ndarray, moving: np.ndarray, priority: np.ndarray) -> np.ndarray:
    """Colour (K,) of each contact between bricks a and b; `moving` (N,) tells which bricks matter."""
    colour = np.zeros(len(a), dtype=np.int64)
    taken, best = np.zeros(len(moving), dtype=np.uint64), np.zeros(len(moving), dtype=np.uint64)
    left = np.arange(len(a))
    priority = np.argsort(np.argsort(priority, kind="stable")).astype(np.uint64)  # two of one brick are never equal
    while len(left):
        ends, urgent = (a[left], b[left]), priority[left]
        for end in ends:
            best[end] = 0
        for end in ends:
            np.maximum.at(best, end, urgent)
        first = np.logical_and.reduce([(best[end] == urgent) | ~moving[end] for end in ends])
        chosen = left[first]
        ends = (a[chosen], b[chosen])
        blocked = np.bitwise_or.reduce([np.where(moving[end], taken[end], np.uint64(0)) for end in ends])
        free = ~blocked & (blocked + np.uint64(1))  # the lowest bit that is not set
        colour[chosen] = np.log2(free.astype(np.float64)).astype(np.int64)
        for end in ends:
            np.bitwise_or.at(taken, end, free)
        left = left[~first]
    return colour
