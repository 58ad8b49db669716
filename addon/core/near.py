"""Which boxes come near each other: a coarse grid, with arrays alone."""

from functools import partial

import numpy as np

from . import threads
from .counts import within
from .errors import Crowded
from .sizes import TRADE

_CELL_MM = np.array([4 * TRADE.pitch, 4 * TRADE.pitch, TRADE.brick_height])  # few cells a brick and few bricks a cell
_MOST_CELLS = 1 << 20  # along an axis: their number, in all three, is one of 64 bits
_MOST_ENTRIES, _MOST_LOOKS = 5e7, 2e9  # boxes in cells, and pairs of boxes in one: what has more is no build
_CHUNK = threads.CHUNK  # pairs looked at together


def near_pairs(low: np.ndarray, high: np.ndarray, reach: float) -> np.ndarray:
    """Pairs (P, 2) of boxes (N, 3) that come within `reach` of each other, each pair once, smaller index first.

    Every box is entered in each cell that it touches, boxes of one cell are compared, and a pair counts in the one cell
    where both are present first.
    """
    if len(low) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    low, high = low - 0.5 * reach, high + 0.5 * reach
    origin = _origins(low, high)
    first = np.floor((low - origin) / _CELL_MM).astype(np.int32)
    last = np.floor((high - origin) / _CELL_MM).astype(np.int32)
    across = last.max(axis=0).astype(np.int64) + 1
    if (last - first + 1.0).prod(axis=1).sum() > _MOST_ENTRIES:
        raise Crowded(f"{len(low)} objects are too large to tell what touches what: check the scale")
    cell, box = entered(first, last, across)
    _check_room(cell)
    boxes = [np.ascontiguousarray(each.T) for each in (low, high, first)]
    found, at, step = [], np.arange(len(cell)), 1
    while len(at := at[: np.searchsorted(at, len(cell) - step)]):
        at = at[cell[at + step] == cell[at]]
        alike = box[at], box[at + step], cell[at]
        parts = [[each[part] for each in alike] for part in threads.slices(len(at), _CHUNK)]
        found += threads.each(partial(_meeting, boxes, across), parts)
        step += 1
    return np.concatenate([np.zeros((0, 2), dtype=np.int64), *found])


def holding(points: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Pairs (P, 2) of points (S, 3) and boxes (N, 3) that they lie in, their sides too."""
    if not len(points) or not len(low):
        return np.zeros((0, 2), dtype=np.int64)
    origin = low.min(axis=0)
    first, last, at = (np.floor((each - origin) / _CELL_MM).astype(np.int64) for each in (low, high, points))
    across = last.max(axis=0) + 1
    cell, box = entered(first, last, across)
    own = cell_number(at[:, 0], at[:, 1], at[:, 2], across)
    start, end = (np.searchsorted(cell, own, side) for side in ("left", "right"))
    point = np.repeat(np.arange(len(points)), end - start)
    held = box[start[point] + within(end - start)].astype(np.int64)
    for axis in range(3):
        there = points[point, axis]
        some = (low[held, axis] <= there) & (there <= high[held, axis])
        point, held = point[some], held[some]
    return np.stack([point, held], axis=1)


def among(pairs: np.ndarray, others: np.ndarray) -> np.ndarray:
    """(P,) which pairs (P, 2) are among others (O, 2), whichever of the two comes first."""
    if not len(others):
        return np.zeros(len(pairs), dtype=bool)
    most = np.int64(max(pairs.max(initial=0), others.max()) + 1)
    return np.isin(*(each.min(axis=1) * most + each.max(axis=1) for each in (pairs, others)))


def _origins(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Where cells are counted from: the lowest corner of all, or where boxes (N, 3) are too far from each other to be
    counted so, for each box that without what is empty in between."""
    lowest = low.min(axis=0)
    if (high.max(axis=0) - lowest < _MOST_CELLS * _CELL_MM).all():
        return lowest
    origins = np.empty_like(low)
    for axis in range(3):
        order, empty = emptiness(low[:, axis], high[:, axis], _CELL_MM[axis])
        origins[order, axis] = lowest[axis] + np.cumsum(empty)
    return origins


def emptiness(low: np.ndarray, high: np.ndarray, most: float) -> tuple[np.ndarray, np.ndarray]:
    """In which order (N,) stretches from `low` to `high` (N,) begin, and by how much (N,) what is empty before each, in
    that order, is more than the most."""
    order = np.argsort(low, kind="stable")
    empty = low[order][1:] - np.maximum.accumulate(high[order])[:-1] - most
    return order, np.append(0.0, np.maximum(empty, 0.0))


def _check_room(cell: np.ndarray) -> None:
    """Boxes that lie in each other in thousands would be compared without end."""
    crowd = np.diff(np.flatnonzero(np.r_[True, np.diff(cell) != 0, True])).astype(float)
    if (crowd * crowd).sum() > _MOST_LOOKS:
        raise Crowded(
            f"{int(crowd.max())} objects lie within {_CELL_MM[0]:g} mm, too many to tell what touches what: "
            "check the scale, or export bricks without what is inside them"
        )


def entered(first: np.ndarray, last: np.ndarray, across: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cell number and box index of every cell that a box touches, sorted by cell."""
    count = last - first + 1
    total = count[:, 0] * count[:, 1] * count[:, 2]
    box = np.repeat(np.arange(len(first), dtype=np.int32), total)
    within = np.arange(len(box), dtype=np.int32) - np.repeat((np.cumsum(total) - total).astype(np.int32), total)
    row, x = np.divmod(within, count[box, 0])
    z, y = np.divmod(row, count[box, 1])
    start = first[box]
    cell = cell_number(start[:, 0] + x, start[:, 1] + y, start[:, 2] + z, across)
    order = np.argsort(cell, kind="stable")
    return cell[order], box[order]


def _meeting(boxes: list[np.ndarray], across: np.ndarray, alike: list[np.ndarray]) -> np.ndarray:
    """Those pairs of boxes in a cell that overlap and meet in no earlier cell."""
    (low, high, first), (i, j, cell) = boxes, alike
    for k in range(3):
        overlap = (low[k][i] <= high[k][j]) & (low[k][j] <= high[k][i])
        i, j, cell = i[overlap], j[overlap], cell[overlap]
    x, y, z = (np.maximum(first[k][i], first[k][j]) for k in range(3))
    home = cell_number(x, y, z, across) == cell
    i, j = i[home].astype(np.int64), j[home].astype(np.int64)
    return np.stack([np.minimum(i, j), np.maximum(i, j)], axis=1)


def cell_number(x, y, z, across) -> np.ndarray:
    return (z.astype(np.int64) * across[1] + y) * across[0] + x
