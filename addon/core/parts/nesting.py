"""Which boxes come near each other, and which lie in others."""

from collections.abc import Callable

import numpy as np

from ..counts import within
from ..errors import Crowded
from ..near import near_pairs

_LARGEST_MM, _FAR_MM = 1000.0, 1e6
_ROUND, _MIDDLE = 0.03, 0.03  # of its width: what widths of a round thing differ by, and middles of two in each other
_MANY = 8  # pairs a box: more are told sooner by where boxes are


def pairs(low: np.ndarray, high: np.ndarray, reach: float) -> np.ndarray:
    """Pairs (P, 2) of boxes in mm that come within reach; what is larger than a build, or that far off, has none."""
    number, middle = _sane(low, high)
    try:
        return number[near_pairs(low[number] - middle, high[number] - middle, reach)]
    except Crowded:  # at a scale that cannot be right
        return np.zeros((0, 2), dtype=np.int64)


def _sane(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
    """Which boxes are no larger than a build nor that far off, and the middle of all."""
    middle = np.median(low, axis=0) if len(low) else 0.0
    sane = ((high - low) <= _LARGEST_MM).all(axis=1) & (np.abs(low - middle) <= _FAR_MM).all(axis=1)
    return np.flatnonzero(sane), middle


def pairs_within(
    group: np.ndarray, some: np.ndarray, others: np.ndarray, low: np.ndarray, high: np.ndarray, reach: float
) -> np.ndarray | None:
    """The same pairs of boxes of one `group` (N,), one of `some` (N,) and one of the `others` (N,); None where those
    that would have to be looked at are many."""
    sane = np.zeros(len(low), dtype=bool)
    sane[_sane(low, high)[0]] = True
    first, second = np.flatnonzero(some & sane), np.flatnonzero(others & sane)
    second = second[np.argsort(group[second], kind="stable")]
    start, stop = (np.searchsorted(group[second], group[first], side) for side in ("left", "right"))
    count = stop - start
    if count.sum() > _MANY * len(low):
        return None
    at = np.repeat(start, count) + within(count)
    first, second = np.repeat(first, count), second[at]
    met = (low[first] - reach <= high[second]) & (low[second] - reach <= high[first])
    met = met.all(axis=1) & (first != second)
    return np.stack([first[met], second[met]], axis=1)


def contained(low: np.ndarray, high: np.ndarray, mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (inner, outer) of boxes of which one lies in the other and is the smaller one."""
    size = (high - low).max(axis=1)
    scale = mm if mm != 1.0 else 16.0 / max(np.median(size), 1e-30)  # so that cells hold few boxes
    met = pairs(low * scale, high * scale, 0.0)
    return inside(low, high, np.concatenate([met, met[:, ::-1]]))


def inside(low: np.ndarray, high: np.ndarray, met: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of pairs `met` (P, 2) of boxes those of which the first lies in the second and is the smaller one."""
    inner, outer = met.T
    near = 1e-3 * (high - low)[outer].max(axis=1, keepdims=True)
    fits = (low[inner] >= low[outer] - near).all(axis=1) & (high[inner] <= high[outer] + near).all(axis=1)
    volume = (high - low).prod(axis=1)
    fits &= volume[inner] < 0.9 * volume[outer]
    return inner[fits], outer[fits]


def in_rings(
    low: np.ndarray, high: np.ndarray, inner: np.ndarray, outer: np.ndarray, triangles: Callable[[int], np.ndarray]
) -> np.ndarray:
    """(P,) of which pairs of boxes the inner one is round and lies in the hole of a ring, about the same axis: a rim in
    its tyre, which are two parts. `triangles` are the corners (T, 3, 3) of a number."""
    found = np.zeros(len(inner), dtype=bool)
    size, middle = high - low, 0.5 * (low + high)
    for axis in range(3):
        across = np.delete(np.arange(3), axis)
        wide = size[:, across]
        is_round = np.abs(wide[:, 0] - wide[:, 1]) <= _ROUND * wide.max(axis=1)
        apart = np.abs(middle[inner] - middle[outer])[:, across].max(axis=1)
        likely = is_round[inner] & is_round[outer] & (apart <= _MIDDLE * wide[outer].max(axis=1))
        for n in np.flatnonzero(likely & ~found):
            found[n] = not _covers(triangles(outer[n])[:, :, across], middle[inner[n], across])
    return found


def _covers(triangles: np.ndarray, point: np.ndarray) -> bool:
    """Whether a point (2,) lies in any of triangles (T, 3, 2)."""
    arms, sides = point - triangles, np.roll(triangles, -1, axis=1) - triangles
    turns = sides[:, :, 0] * arms[:, :, 1] - sides[:, :, 1] * arms[:, :, 0]
    inside = (turns >= 0).all(axis=1) | (turns <= 0).all(axis=1)
    return bool((inside & (turns != 0).any(axis=1)).any())  # one that is seen from its edge covers nothing
