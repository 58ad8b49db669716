"""How much room flat faces leave for the rounding of their edges."""

from collections.abc import Iterator

import numpy as np

from ..counts import within

_ALONG = (0.1, 0.5, 0.9)  # of an edge: where it is looked from
_PAIRS = 1 << 21  # compared at a time
_NEAR = 1e-6


def room(
    starts: np.ndarray, ends: np.ndarray, normals: np.ndarray, face: np.ndarray, asked: np.ndarray, reach: float
) -> np.ndarray:
    """How far (A,) the next rim of a face lies from some of its rims, looking into the face at a right angle.

    Rims run from `starts` to `ends` (R, 3), counter-clockwise about the `normals` (R, 3) of the flat `face` (R,), in
    ascending order, that each belongs to; `asked` (A,) are those that are looked from. Infinite where nothing is met
    within `reach`.
    """
    least = np.full(len(asked), np.inf)
    way = ends - starts
    length = np.sqrt((way**2).sum(axis=1))
    middle = 0.5 * (starts + ends)
    along = way / np.maximum(length, 1e-12)[:, None]
    inward = np.cross(normals, along)
    for query, rim in _pairs(face, asked):
        own = asked[query]
        apart = np.sqrt(((middle[own] - middle[rim]) ** 2).sum(axis=1)) - 0.5 * (length[own] + length[rim])
        near = (apart <= reach) & (own != rim)
        query, rim, own = query[near], rim[near], own[near]
        for share in _ALONG:
            eye = starts[own] + share * way[own]
            (ax, ay), (bx, by) = (
                (((point - eye) * along[own]).sum(axis=1), ((point - eye) * inward[own]).sum(axis=1))
                for point in (starts[rim], ends[rim])
            )
            crosses = (np.minimum(ax, bx) <= _NEAR) & (np.maximum(ax, bx) >= -_NEAR) & (np.abs(ax - bx) > _NEAR)
            away = ay + np.clip(ax / np.where(crosses, ax - bx, 1.0), 0.0, 1.0) * (by - ay)
            met = crosses & (away > _NEAR) & (away <= reach)
            np.minimum.at(least, query[met], away[met])
    return least


def _pairs(face: np.ndarray, asked: np.ndarray) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Every asked rim, as its place in `asked`, with every rim of its face."""
    start, stop = (np.searchsorted(face, face[asked], side) for side in ("left", "right"))
    count = stop - start
    total = np.cumsum(count)
    first = 0
    while first < len(asked):
        before = total[first - 1] if first else 0
        last = max(int(np.searchsorted(total, before + _PAIRS)), first + 1)
        size = count[first:last]
        query = np.repeat(np.arange(first, last), size)
        yield query, start[query] + within(size)
        first = last
