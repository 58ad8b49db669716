"""Closed triangle meshes from flat outlines: faces with round holes, walls, prisms, turned bodies. All in mm, z up.

A soup is triangles (T, 3, 3), seen from outside counter-clockwise. Outlines are (n, 2), counter-clockwise.
"""

import itertools
from collections.abc import Sequence

import numpy as np
from scipy.spatial import Delaunay, cKDTree


def circle(x: float, y: float, radius: float, facets: int) -> np.ndarray:
    angle = 2 * np.pi * np.arange(facets) / facets
    return np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], axis=1)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)


def face(outline: np.ndarray, holes: Sequence[np.ndarray] = ()) -> np.ndarray:
    """Triangles (T, 3, 2) of a flat face; an outline with round holes in it has to be convex."""
    return _holed(outline, holes) if len(holes) else _clipped(outline)


def level(flat: np.ndarray, z: float, up: bool = True) -> np.ndarray:
    """A flat face (T, 3, 2) at a height, looking up or down."""
    soup = np.concatenate([flat, np.full((*flat.shape[:2], 1), z)], axis=2)
    return soup if up else soup[:, ::-1]


def wall(loop: np.ndarray, z0: float, z1: float) -> np.ndarray:
    """Upright walls around a loop, looking outward; inward where the loop is given the other way around."""
    following = np.roll(loop, -1, axis=0)
    a, b = np.insert(loop, 2, z0, axis=1), np.insert(following, 2, z0, axis=1)
    c, d = np.insert(following, 2, z1, axis=1), np.insert(loop, 2, z1, axis=1)
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


def rim(outer: np.ndarray, inner: np.ndarray) -> np.ndarray:
    """The flat ring (T, 3, 2) between two loops of equally many corners."""
    a, b, c, d = outer, np.roll(outer, -1, axis=0), np.roll(inner, -1, axis=0), inner
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


def prism(outline: np.ndarray, z0: float, z1: float, holes: Sequence[np.ndarray] = ()) -> np.ndarray:
    flat = face(outline, holes)
    around = [wall(outline, z0, z1), *(wall(hole[::-1], z0, z1) for hole in holes)]
    return np.concatenate([level(flat, z1), level(flat, z0, up=False), *around])


def turned(profile: Sequence[tuple[float, float]], facets: int) -> np.ndarray:
    """The body that a profile of (radius, z), from the axis below outward and back to the axis above, sweeps."""
    rings = [np.insert(circle(0, 0, radius, facets), 2, z, axis=1) for radius, z in profile]
    strips = []
    for low, high in itertools.pairwise(rings):
        a, b, c, d = low, np.roll(low, -1, axis=0), np.roll(high, -1, axis=0), high
        strips += [np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]
    soup = np.concatenate(strips)
    area = np.linalg.norm(np.cross(soup[:, 1] - soup[:, 0], soup[:, 2] - soup[:, 0]), axis=1)
    return soup[area > 1e-9]


def set_on(soup: np.ndarray, origin: np.ndarray, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """A soup made on the ground, set on another plane: x along u, y along v, z along their cross product."""
    return soup @ np.stack([u, v, np.cross(u, v)]) + origin


def _holed(outline, holes):
    """The chords of a round hole are short, so that Delaunay's triangles keep them."""
    points = np.concatenate([outline, *holes])
    soup = points[Delaunay(points).simplices]
    middle = soup.mean(axis=1)
    inside, places = np.zeros(len(soup), dtype=bool), cKDTree(middle)
    for hole in holes:
        near = np.array(places.query_ball_point(hole.mean(axis=0), np.ptp(hole, axis=0).max()), dtype=int)
        inside[near] |= _within(middle[near], hole)
    a, b, c = np.moveaxis(soup, 1, 0)
    area = _cross(b - a, c - a)
    soup[area < 0] = soup[area < 0][:, ::-1]
    return soup[~inside & (np.abs(area) > 1e-9)]


def _within(points, convex):
    """Which points lie inside a convex outline."""
    side = _cross(np.roll(convex, -1, axis=0) - convex, points[:, None] - convex)
    return (side > 0).all(axis=1)


def _clipped(outline):
    """Ears off an outline without holes, one after the other."""
    left, ears = list(range(len(outline))), []
    while len(left) > 3:
        for place, corner in enumerate(left):
            before, after = left[place - 1], left[(place + 1) % len(left)]
            ear = outline[[before, corner, after]]
            others = outline[[other for other in left if other not in (before, corner, after)]]
            if _cross(ear[1] - ear[0], ear[2] - ear[0]) > 1e-12 and not _touched(ear, others):
                ears.append(ear)
                left.pop(place)
                break
        else:
            raise ValueError("the outline is no simple one")
    return np.array([*ears, outline[left]])


def _touched(ear, points):
    side = _cross(np.roll(ear, -1, axis=0) - ear, points[:, None] - ear)
    return bool((side >= -1e-12).all(axis=1).any())


def _cross(a, b):
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
