"""Points on a surface of triangles, how far others are from it, and which lie inside."""

import numpy as np

_ROUNDED = 1 + 1e-9
_R2 = 0.7548776662466927, 0.5698402909980532  # spreads evenly: Roberts, "The Unreasonable Effectiveness of
# Quasirandom Sequences" (2018)
_ASIDE = np.array([3.1e-7, 1.9e-7, 0.0])  # of its extent


def normals(triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (T, 3) of triangles (T, 3, 3), zero where they have no surface, and their areas (T,)."""
    a, b, c = np.moveaxis(triangles, 1, 0)
    normal = np.cross(b - a, c - a)
    size = np.sqrt((normal * normal).sum(axis=1))
    return normal / np.maximum(size, 1e-300)[:, None], 0.5 * size


def distances(points: np.ndarray, triangles: np.ndarray, reach: float) -> np.ndarray:
    """(P,) distance of each point (P, 3) to the nearest of triangles (T, 3, 3); inf where none is within `reach` of
    the points' box.

    To a triangle it is that to its plane where the point stands over it, else that to its edges.
    """
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    near = (triangles.min(axis=1) <= high).all(axis=1) & (triangles.max(axis=1) >= low).all(axis=1)
    if not near.any():
        return np.full(len(points), np.inf)
    who, corners = _candidates(points, triangles[near])
    corners = np.moveaxis(corners, 1, 0)
    arms = points[who] - corners  # (3, pairs, 3)
    sides = np.roll(corners, -1, axis=0) - corners
    normal = np.cross(sides[0], -sides[2])
    size = (normal * normal).sum(axis=1)
    over = size > 0  # nothing stands over a triangle without surface
    least = np.full(len(who), np.inf)
    for arm, side in zip(arms, sides, strict=True):
        over &= (np.cross(side, arm) * normal).sum(axis=1) >= 0
        share = (arm * side).sum(axis=1) / np.maximum((side * side).sum(axis=1), 1e-300)
        gap = arm - np.clip(share, 0.0, 1.0)[:, None] * side
        least = np.minimum(least, (gap * gap).sum(axis=1))
    plane = (arms[0] * normal).sum(axis=1) ** 2 / np.maximum(size, 1e-300)
    starts = np.searchsorted(who, np.arange(len(points)))
    return np.sqrt(np.minimum.reduceat(np.where(over, plane, least), starts))


def _candidates(points: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The points (pairs,), in their order, beside triangles (pairs, 3, 3) that may be nearest to each: whose box is
    no farther than some triangle's middle."""
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    place = points[:, None]
    to_middle = ((place - triangles.mean(axis=1)) ** 2).sum(axis=2)
    to_box = (np.maximum(np.maximum(low - place, place - high), 0.0) ** 2).sum(axis=2)
    who, which = np.nonzero(to_box <= to_middle.min(axis=1, keepdims=True) * _ROUNDED)
    return who, triangles[which]


def spread(triangles: np.ndarray, count: int) -> np.ndarray:
    """So many points (P, 3) spread over a surface by area."""
    _, area = normals(triangles)
    share = (np.arange(count) + 0.5) / count
    along = np.cumsum(area)
    chosen = triangles[np.minimum(np.searchsorted(along, share * along[-1]), len(triangles) - 1)]
    weight = np.arange(1, count + 1)[:, None] * _R2 % 1.0
    weight = np.where(weight.sum(axis=1, keepdims=True) > 1.0, 1.0 - weight, weight)
    sides = chosen[:, 1:] - chosen[:, :1]
    return chosen[:, 0] + (weight[:, :, None] * sides).sum(axis=1)


def inside(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """(P,) which points (P, 3) a closed surface of triangles (T, 3, 3) lies around, whichever way it is turned: how
    often, and which way, the line up from each goes through it."""
    points = points + _ASIDE * np.abs(triangles).max()  # past edges, of which many run along the axes
    corners = triangles.swapaxes(0, 1)
    low, high = np.minimum.reduce(corners), np.maximum.reduce(corners)
    near = (low[:, :2] <= points[:, :2].max(axis=0)).all(axis=1) & (high >= points.min(axis=0)).all(axis=1)
    triangles, low, high = triangles[near], low[near], high[near]
    over = (points[:, None, :2] >= low[:, :2]).all(axis=2) & (points[:, None] <= high).all(axis=2)
    who, which = np.nonzero(over)
    arms = triangles[which] - points[who, None]
    sides = np.roll(arms, -1, axis=1)
    turns = arms[:, :, 0] * sides[:, :, 1] - arms[:, :, 1] * sides[:, :, 0]
    total = turns.sum(axis=1)
    through = (turns > 0).all(axis=1) | (turns < 0).all(axis=1)
    height = (np.roll(turns, -1, axis=1) * arms[:, :, 2]).sum(axis=1) * np.sign(total)
    crossed = np.where(through & (height > 0), np.sign(total), 0.0)
    return np.bincount(who, crossed, len(points)) != 0
