"""A body as boxes that hold it and leave free what others may stand in: arches, the corner of an angle, a window.

Seen along one axis the body is a map of columns, each from the lowest to the highest point of the mesh in it; of the
three axes that one is taken whose boxes are the smallest. What can be reached from below alone, as the hollow under a
brick, is filled: the studs that stand in it are no bodies. Where the mesh in a box leaves its corners free, as a slope,
a wedge or a round does, its convex hull tells how far it really goes; a body that is convex as a whole stays whole.
"""

from collections.abc import Iterator

import numpy as np

from ..sizes import MET, TRADE
from . import surface
from .hull import BOX, Hull, hull

MOST_BOXES = 24  # of a part; finer ones are taken column by column of a pitch
LONGEST_MM = 1000.0  # of a part: none that is moulded is longer, and columns without end would be looked through

_SAME_MM = 0.02  # heights this close are one
_WALL_MM2 = 4.0  # the least wall at which columns end
_ON_WALL_MM = 0.01
_ON_PLANE_MM = 1e-6
_BETTER = 0.98  # of the volume: less is worth another axis, or a hull in place of a box
_CORNER = 0.1  # of a box's shortest half side: with points of the mesh this near to all corners, the mesh fills it


def solids(
    triangles: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int
) -> tuple[np.ndarray, tuple[Hull | None, ...]]:
    """As `boxes`, and what fills each of them, as `Hull.within` tells it; None where that is all of the box."""
    inside = np.clip(triangles, low, high)  # what stands out of the body, as studs do, stands over a face
    points = inside.reshape(-1, 3)
    found = boxes(triangles, low, high, axis)
    if len(found) == 1 and _filled_to_the_corners(points, *found[0]):
        return found, (None,)
    hulls = [_hull(inside, *box) for box in found]
    whole = hull(points)
    if whole and whole.volume * _BETTER < sum(_held(box, own) for box, own in zip(found, hulls, strict=True)):
        found, hulls = np.array([[low, high]]), [whole]
    return found, tuple(_worth(box, own) for box, own in zip(found, hulls, strict=True))


def _held(box: np.ndarray, own: Hull | None) -> float:
    return own.volume if own else _volume(box[None])


def _worth(box: np.ndarray, own: Hull | None) -> Hull | None:
    return own.within(*box) if own and own.volume < _BETTER * _volume(box[None]) else None


def _hull(triangles: np.ndarray, low: np.ndarray, high: np.ndarray) -> Hull | None:
    """Of what of a mesh lies in a box."""
    for axis in range(3):
        for position, sign in ((low[axis], 1), (high[axis], -1)):
            triangles = cut(triangles, axis, position)
            triangles = triangles[(sign * (triangles[:, :, axis] - position)).min(axis=1) > -_ON_WALL_MM]
    points = np.clip(triangles.reshape(-1, 3), low, high)
    return None if not len(points) or _filled_to_the_corners(points, low, high) else hull(points)


def _filled_to_the_corners(points: np.ndarray, low: np.ndarray, high: np.ndarray) -> bool:
    corners = 0.5 * (low + high) + 0.5 * (high - low) * BOX.corners
    near = 0.5 * _CORNER * (high - low).min()
    return all(bool((np.abs(points - corner).max(axis=1) < near).any()) for corner in corners)


def boxes(triangles: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int) -> np.ndarray:
    """Boxes (B, 2, 3) of the body between `low` and `high` (3,) of a mesh, triangles (T, 3, 3); its upright axis is
    preferred. What is longer than any part is one box."""
    if (high - low).max() > LONGEST_MM:
        return np.array([[low, high]])
    best = _seen_along(triangles, low, high, axis)
    if (high - low)[axis] <= MET.plate_height.most:  # a plate has no corner that could be seen from its sides
        return best
    for along in np.delete(np.arange(3), axis):
        found = _seen_along(triangles, low, high, along)
        if _volume(found) < _BETTER * _volume(best):
            best = found
    return best


def _volume(found: np.ndarray) -> float:
    return float((found[:, 1] - found[:, 0]).prod(axis=1).sum())


def _seen_along(triangles: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int) -> np.ndarray:
    across = [other for other in range(3) if other != axis]
    pitches = [_pitches(low[other], high[other]) for other in across]
    walls = [_with_walls(line, triangles, other) for line, other in zip(pitches, across, strict=True)]
    found = _of_columns(triangles, low, high, axis, walls)
    return found if 0 < len(found) <= MOST_BOXES else _of_columns(triangles, low, high, axis, pitches)


def _pitches(low: float, high: float) -> np.ndarray:
    return np.linspace(low, high, max(int(np.rint((high - low) / TRADE.pitch)), 1) + 1)


def _with_walls(line: np.ndarray, triangles: np.ndarray, axis: int) -> np.ndarray:
    """A line's places and those where walls stand across it."""
    _, area = surface.normals(triangles)
    across = np.ptp(triangles[:, :, axis], axis=1) < 1e-4
    place = triangles[across, 0, axis]
    levels, number = np.unique(np.rint(place / _ON_WALL_MM).astype(np.int64), return_inverse=True)
    wall = np.bincount(number, area[across], len(levels))
    at_walls = np.bincount(number, area[across] * place, len(levels))[wall > _WALL_MM2] / wall[wall > _WALL_MM2]
    kept = [line[0]]
    for at in sorted([*line[1:-1], *at_walls]):
        if at - kept[-1] > 5 * _ON_WALL_MM and line[-1] - at > 5 * _ON_WALL_MM:
            kept.append(at)
    return np.array([*kept, line[-1]])


def _of_columns(triangles, low, high, axis: int, lines: list[np.ndarray]) -> np.ndarray:
    across = [other for other in range(3) if other != axis]
    pieces = triangles
    for other, line in zip(across, lines, strict=True):
        for position in line[1:-1]:
            pieces = cut(pieces, other, position)
            on_it = np.abs(pieces[:, :, other] - position).max(axis=1) < _ON_WALL_MM  # a wall between two columns
            pieces = pieces[~on_it]
    middle = pieces.mean(axis=1)[:, across]
    cells = [len(line) - 1 for line in lines]
    at = tuple(np.clip(np.searchsorted(line, middle[:, n]) - 1, 0, cells[n] - 1) for n, line in enumerate(lines))
    heights = np.clip(pieces[:, :, axis], low[axis], high[axis])
    bottom, top = np.full(cells, np.inf), np.full(cells, -np.inf)
    np.minimum.at(bottom, at, heights.min(axis=1))
    np.maximum.at(top, at, heights.max(axis=1))
    bottom, top = _filled(bottom), -_filled(-top)
    found = [_box(lines, span, heights, axis) for *span, heights in _merged(bottom, top)]
    return np.array(found, dtype=float).reshape(-1, 2, 3)


def _filled(bottom: np.ndarray) -> np.ndarray:
    """Undersides (X, Y), infinite where there is nothing, with the hollows filled that are open to no side."""
    level = np.pad(bottom, 1, constant_values=np.inf)
    free = np.isinf(level)
    filled = np.where(free, np.inf, -np.inf)
    while True:
        way_in = np.maximum.reduce([np.roll(filled, step, axis) for step in (1, -1) for axis in (0, 1)])
        after = np.where(free, np.inf, np.minimum(level, way_in))
        if (after == filled).all():
            return filled[1:-1, 1:-1]
        filled = after


def cut(triangles: np.ndarray, axis: int, position: float) -> np.ndarray:
    """Triangles (T, 3, 3) cut in two by a plane; those that do not cross it stay whole."""
    first, second, third = off = (triangles[:, :, axis] - position).T
    below, above = (end(end(first, second), third) for end in (np.minimum, np.maximum))
    crossing = (below < -_ON_PLANE_MM) & (above > _ON_PLANE_MM)
    kept, cut, off = triangles[~crossing], triangles[crossing], off.T[crossing]
    side = np.sign(np.where(np.abs(off) < _ON_PLANE_MM, 0.0, off))
    if not len(cut):
        return kept
    # Turned so that the first corner is alone on its side of the plane.
    alone = (side != 0) & (side * np.roll(side, -1, axis=1) <= 0) & (side * np.roll(side, 1, axis=1) <= 0)
    first = alone.argmax(axis=1)
    turned = np.take_along_axis(cut, ((first[:, None] + np.arange(3)) % 3)[:, :, None], axis=1)
    a, b, c = turned[:, 0], turned[:, 1], turned[:, 2]
    ab, ac = (_on_plane(a, other, axis, position) for other in (b, c))
    return np.concatenate(
        [kept, np.stack([a, ab, ac], axis=1), np.stack([ab, b, c], axis=1), np.stack([ab, c, ac], axis=1)]
    )


def _on_plane(a: np.ndarray, b: np.ndarray, axis: int, position: float) -> np.ndarray:
    share = (position - a[:, axis]) / (b[:, axis] - a[:, axis])
    point = a + share[:, None] * (b - a)
    point[:, axis] = position
    return point


def _merged(bottom: np.ndarray, top: np.ndarray) -> Iterator[tuple]:
    """Rectangles of cells with one bottom and one top: (first and last cell in x and in y, heights)."""
    left = top > bottom + _SAME_MM
    while left.any():
        i, j = np.argwhere(left)[0]

        def alike(area):
            same = np.abs(bottom[area] - bottom[i, j]) < _SAME_MM  # noqa: B023  used at once
            return bool((left[area] & same & (np.abs(top[area] - top[i, j]) < _SAME_MM)).all())  # noqa: B023

        far_j = j
        while far_j + 1 < left.shape[1] and alike(np.s_[i : i + 1, far_j + 1 : far_j + 2]):
            far_j += 1
        far_i = i
        while far_i + 1 < left.shape[0] and alike(np.s_[far_i + 1 : far_i + 2, j : far_j + 1]):
            far_i += 1
        left[i : far_i + 1, j : far_j + 1] = False
        yield (i, far_i), (j, far_j), (bottom[i, j], top[i, j])


def _box(lines, span, heights, axis: int) -> list[list[float]]:
    corners = [[line[first], line[last + 1]] for line, (first, last) in zip(lines, span, strict=True)]
    corners.insert(axis, list(heights))
    return [[ends[0] for ends in corners], [ends[1] for ends in corners]]
