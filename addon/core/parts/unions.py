"""Shells that are one part without lying in each other: short pieces in a row, as hoses are drawn, and what is sunk in
what it grows out of, as a peg is in its hand. Sizes: common practice of the trade, no published source."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..sizes import TRADE
from . import nesting, surface
from .shells import connected

_MANY = 5  # pieces in a row: fewer may be parts of their own
_APART_MM = 0.3  # between boxes of two in a row
_EVENLY = 1.25  # of the least step: the longest one in a row
_STRAIGHT = -0.5  # cosine between the ways to both neighbours: a row bends, it does not turn back
_SUNK_MM = 0.25  # deeper than a pin in its hole, whose facets may cut into each other
_LOOKED_AT = 48  # points of a shell's surface
_SMALLER = 0.8  # of what holds it: that of a shell that is sunk in another; like ones cut into each other are two
_ROUNDED_MM = 0.01


def rows(low: np.ndarray, high: np.ndarray, loose: np.ndarray) -> np.ndarray:
    """Homes (S,) with those of the `loose` (S,) shells that are pieces of one row at its first; boxes (S, 3) in mm.

    Such pieces are smaller than a pitch every way, as no brick is, and follow each other evenly.
    """
    home = np.arange(len(low))
    small = np.flatnonzero(loose & ((high - low) < TRADE.pitch).all(axis=1))
    links = _links(low[small], high[small])
    row = connected(len(small), *links.T)
    count = np.bincount(row)[row] if len(small) else row
    _, first = np.unique(row, return_index=True)
    home[small] = np.where(count >= _MANY, small[first[row]] if len(small) else small, small)
    return home


def _links(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Pairs (L, 2) of boxes that are each other's neighbours in a row: of the nearest two, and on opposite sides."""
    pairs = nesting.pairs(low, high, _APART_MM)
    pairs = np.concatenate([pairs, pairs[:, ::-1]])
    arm = 0.5 * (low + high)[pairs[:, 1]] - 0.5 * (low + high)[pairs[:, 0]]
    step = np.linalg.norm(arm, axis=1)
    order = np.lexsort((step, pairs[:, 0]))
    pairs, arm, step = pairs[order], arm[order], step[order]
    begin = np.searchsorted(pairs[:, 0], pairs[:, 0])
    opposite = (arm * arm[begin]).sum(axis=1) < _STRAIGHT * step * step[begin]
    chosen = np.arange(len(pairs)) == begin
    others = np.flatnonzero(opposite & (step <= _EVENLY * step[begin]))
    _, nearest = np.unique(pairs[others, 0], return_index=True)
    chosen[others[nearest]] = True
    pairs = np.sort(pairs[chosen], axis=1)
    links, count = np.unique(pairs, axis=0, return_counts=True)
    return links[count == 2]


def grown(
    low: np.ndarray, high: np.ndarray, volume: np.ndarray, is_brick: np.ndarray, pairs: np.ndarray,
    triangles: Callable[[int], np.ndarray],
) -> np.ndarray:  # fmt: skip
    """Homes (S,) with each shell that is sunk in one other, larger than itself or a brick, at that one; `pairs` (P, 2)
    of those that may be one part. What is sunk in several that are parts of their own is a pin or a bar.

    Boxes (S, 3), `volume` (S,) and `triangles`, the corners (T, 3, 3) of a number, in mm.
    """
    home = np.arange(len(low))
    rank = np.lexsort((volume, is_brick))
    place = np.argsort(rank)
    holders = defaultdict(list)
    for one, other in _sunk(low, high, volume, pairs, triangles):
        small, large = sorted((one, other), key=lambda n: place[n])
        if not is_brick[small] and (is_brick[large] or volume[small] <= _SMALLER * volume[large]):
            holders[small].append(large)
    for small in sorted(holders, key=lambda n: -place[n]):  # the largest first, so that its own home is known
        homes = {int(home[large]) for large in holders[small]}
        if len(homes) == 1:
            home[small] = homes.pop()
    return home


def _sunk(low, high, volume, pairs, triangles) -> Iterator[tuple[int, int]]:
    """Those of pairs (P, 2) of which one is sunk in the other; what repeats is looked at once."""
    deep = np.minimum(high[pairs[:, 0]], high[pairs[:, 1]]) - np.maximum(low[pairs[:, 0]], low[pairs[:, 1]])
    pairs = pairs[(deep > _SUNK_MM).all(axis=1)]
    known: dict[bytes, bool] = {}
    seen = lru_cache(maxsize=1024)(lambda n: _Seen.of(triangles(n)))
    for one, other in pairs.tolist():
        told = np.r_[high[one] - low[one], high[other] - low[other], low[other] - low[one], volume[[one, other]]]
        key = np.rint(told / _ROUNDED_MM).tobytes()
        if key not in known:
            known[key] = _reaches_into(seen(one), seen(other)) or _reaches_into(seen(other), seen(one))
        if known[key]:
            yield one, other


@dataclass(frozen=True)
class _Seen:
    """Triangles (T, 3, 3), some points (P, 3) on them, and between what two corners (3,) others would be sunk."""

    triangles: np.ndarray
    points: np.ndarray
    low: np.ndarray
    high: np.ndarray

    @classmethod
    def of(cls, triangles: np.ndarray) -> "_Seen":
        corners = triangles.reshape(-1, 3)
        low, high = corners.min(axis=0) + _SUNK_MM, corners.max(axis=0) - _SUNK_MM
        return cls(triangles, surface.spread(triangles, _LOOKED_AT), low, high)


def _reaches_into(one: _Seen, other: _Seen) -> bool:
    """Whether some of the first surface lies deep in the second solid."""
    points = one.points[((one.points > other.low) & (one.points < other.high)).all(axis=1)]
    points = points[surface.inside(points, other.triangles)] if len(points) else points
    return len(points) > 0 and bool((surface.distances(points, other.triangles, _SUNK_MM) > _SUNK_MM).any())
