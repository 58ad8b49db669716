"""How far points are from a surface of triangles."""

import numpy as np


def distances(points: np.ndarray, triangles: np.ndarray, reach: float) -> np.ndarray:
    """(P,) distance of each point (P, 3) to the nearest of triangles (T, 3, 3); inf where none is within `reach` of
    the points' box.

    To a triangle it is that to its plane where the point stands over it, else that to its edges.
    """
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    near = (triangles.min(axis=1) <= high).all(axis=1) & (triangles.max(axis=1) >= low).all(axis=1)
    if not near.any():
        return np.full(len(points), np.inf)
    corners = np.moveaxis(triangles[near], 1, 0)
    sides = np.roll(corners, -1, axis=0) - corners
    normal = np.cross(sides[0], -sides[2])
    size = (normal * normal).sum(axis=1)
    from_corner = points[:, None, None] - corners  # (P, 3, T, 3)
    over = np.tile(size > 0, (len(points), 1))  # nothing stands over a triangle without surface
    least = np.full((len(points), len(normal)), np.inf)
    for arm, side in zip(np.moveaxis(from_corner, 1, 0), sides, strict=True):
        over &= (np.cross(side, arm) * normal).sum(axis=2) >= 0
        share = (arm * side).sum(axis=2) / np.maximum((side * side).sum(axis=1), 1e-300)
        gap = arm - np.clip(share, 0.0, 1.0)[:, :, None] * side
        least = np.minimum(least, (gap * gap).sum(axis=2))
    plane = (from_corner[:, 0] * normal).sum(axis=2) ** 2 / np.maximum(size, 1e-300)
    return np.sqrt(np.where(over, plane, least).min(axis=1))
