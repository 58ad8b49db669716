"""Closed pieces of a mesh as they were written, one after the other, and which of them are copies of others.

Programs write a joined build brick by brick. Each edge of a closed piece is walked once each way: with a sum in which
the two cancel, the piece ends where the sum is back at what it was. That costs one look at each triangle, and what
holds for one copy holds for all.
"""

import numpy as np

from ..build.identity import chained
from ..draws import mixed

MANY = 20_000  # triangles of a mesh that is worth the look
_LEAST = 4  # triangles that a solid has
_OFTEN = 3  # times that a sum is seen at both ends of a piece and of its neighbour: two may be by chance
_FIRST = 32  # different pieces of equal lists that a copy is compared with
_MOST = 250_000  # pieces that are compared
_AT_ONCE = 1 << 20  # triangles: more would take gigabytes
_ROUNDED = 4e-7  # of the largest coordinate: what single precision leaves of equal distances
_ODD = mixed(np.arange(3, dtype=np.uint64)) | np.uint64(1)


def closed(vertices: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Where closed pieces of triangles (T, 3) over vertices (V, 3) begin and end, (R, 2), in their order.

    No piece holds another. What is left out may be closed as well, but was not written at one go.
    """
    one = words(vertices)
    other = mixed(one)
    value = np.empty(len(triangles), dtype=np.uint64)
    for part in _slices(len(triangles)):
        a, b, c = triangles[part].T
        value[part] = sum(one[p] * other[q] - one[q] * other[p] for p, q in ((a, b), (b, c), (c, a)))
    real = np.flatnonzero(value)
    total = np.r_[np.zeros(1, dtype=np.uint64), np.cumsum(value[real], dtype=np.uint64)]
    order = np.argsort(total, kind="stable")
    back = total[order[1:]] == total[order[:-1]]
    begin, end = order[:-1][back], order[1:][back]
    often = np.diff(np.flatnonzero(np.r_[True, ~back, True]))[np.r_[0, np.cumsum(~back)][:-1][back]]
    sort = np.argsort(begin)
    begin, end, often = begin[sort], end[sort], often[sort]
    after = np.minimum.accumulate(end[::-1])[::-1]
    least = np.flatnonzero(np.r_[end[:-1] < after[1:], True][: len(end)])
    least = least[_apart(begin[least], end[least], often[least])]
    begin, end = begin[least], end[least]
    solid = (end - begin >= _LEAST) & (often[least] >= _OFTEN)
    return np.stack([real[begin[solid]], real[end[solid] - 1] + 1], axis=1)


def _apart(begin: np.ndarray, end: np.ndarray, often: np.ndarray) -> list[int]:
    """Numbers of those that do not overlap. Where bricks touch, the end of one and the beginning of the next may close
    as well: of two that overlap the one counts of which more `often` a sum like its own was seen."""
    kept: list[int] = []
    unsure: set[int] = set()
    reached = -1
    for n, (low, high, many) in enumerate(zip(begin.tolist(), end.tolist(), often.tolist(), strict=True)):
        while kept and low < reached and many > often[kept[-1]]:
            kept.pop()
            reached = end[kept[-1]] if kept else -1
        if low >= reached:
            kept.append(n)
            reached = high
        elif many == often[kept[-1]]:
            unsure.add(kept[-1])
    return [n for n in kept if n not in unsure]


def copies(vertices: np.ndarray, triangles: np.ndarray, pieces: np.ndarray, said: np.ndarray | None) -> np.ndarray:
    """(R,) the first of `pieces` (R, 2) that each is a shifted copy of: itself, where it is like none before.

    Copies have their corners at the same places, number their vertices alike, and have alike what is `said` (T,) of
    each triangle.
    """
    first = np.arange(len(pieces))
    if not 1 < len(pieces) <= _MOST:
        return first
    told = np.stack([pieces[:, 1] - pieces[:, 0], _told(triangles, pieces, said).view(np.int64)], axis=1)
    _, group, count = np.unique(told, axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(group.ravel(), kind="stable")
    near = _ROUNDED * np.abs(vertices).max()
    for same in np.split(order, np.cumsum(count)[:-1]):
        for _ in range(_FIRST):
            if len(same) < 2:
                break
            alike = _are_alike(vertices, triangles, pieces[same], near)
            first[same[alike]] = same[0]
            same = same[~alike]
    return first


def triangles_of(pieces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The place in the row and the number of every triangle of pieces (R, 2), piece after piece."""
    count = pieces[:, 1] - pieces[:, 0]
    piece = np.repeat(np.arange(len(pieces)), count)
    return piece, np.arange(count.sum()) + np.repeat(pieces[:, 0] - (np.cumsum(count) - count), count)


def _told(triangles: np.ndarray, pieces: np.ndarray, said: np.ndarray | None) -> np.ndarray:
    """(R,) in one word what is said of a piece's triangles, and how they number their vertices."""
    found = np.empty(len(pieces), dtype=np.uint64)
    ends = np.searchsorted(pieces[:, 1], np.arange(_AT_ONCE, pieces[-1, 1] + _AT_ONCE, _AT_ONCE), side="left")
    for low, high in zip(np.r_[0, ends[:-1]], np.minimum(ends, len(pieces)), strict=True):
        if low < high:
            count = pieces[low:high, 1] - pieces[low:high, 0]
            starts = np.cumsum(count) - count
            which = triangles_of(pieces[low:high])[1]
            within = np.arange(len(which)) - np.repeat(starts, count)
            own = triangles[which]
            own = own - np.repeat(np.minimum.reduceat(own.min(axis=1), starts), count)[:, None]
            word = mixed((own.astype(np.uint64) * _ODD).sum(axis=1, dtype=np.uint64))
            if said is not None:
                word ^= said[which]
            found[low:high] = np.add.reduceat(mixed(word + within.astype(np.uint64) * _ODD[0]), starts)
    return found


def _are_alike(vertices: np.ndarray, triangles: np.ndarray, pieces: np.ndarray, near: float) -> np.ndarray:
    """(n,) which pieces of equally many triangles are like the first, but for a shift."""
    count = pieces[0, 1] - pieces[0, 0]
    alike = np.ones(len(pieces), dtype=bool)
    for within in (np.unique(np.linspace(0, count - 1, 8).astype(int)), np.arange(count)):
        left = np.flatnonzero(alike)
        goal = _from_first(vertices, triangles, pieces[:1, 0], within)
        step = max(1, _AT_ONCE // len(within))
        for at in range(0, len(left), step):
            some = left[at : at + step]
            apart = _from_first(vertices, triangles, pieces[some, 0], within)
            apart -= goal
            alike[some] = np.abs(apart).max(axis=(1, 2)) <= near
    return alike


def _from_first(vertices: np.ndarray, triangles: np.ndarray, begin: np.ndarray, within: np.ndarray) -> np.ndarray:
    """Where the corners of some triangles within pieces lie, (n, 3t, 3), from the first corner of the piece."""
    corners = vertices[triangles[begin[:, None] + within].reshape(len(begin), -1)]
    corners -= vertices[triangles[begin, 0]][:, None]
    return corners


def words(places: np.ndarray) -> np.ndarray:
    """A word (V,) for each place (V, 3), the same for the same numbers."""
    return chained(np.ascontiguousarray(places + 0.0, dtype=float).view(np.uint64))


def _slices(count: int) -> list[slice]:
    return [slice(at, at + _AT_ONCE) for at in range(0, count, _AT_ONCE)]
