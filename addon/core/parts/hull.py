"""Convex hulls of a few hundred points: slopes, wedges, rounds and cones as they are, where a box would hold too much.

Barber, Dobkin, Huhdanpaa: The Quickhull Algorithm for Convex Hulls, ACM Transactions on Mathematical Software 22, 1996.
"""

from dataclasses import dataclass

import numpy as np

_ON_PLANE = 1e-5  # of the largest side: points this near to a face's plane lie in it
_CORNERS = 200  # more than any part has that is drawn without noise
_NOISE = 1e-7  # and this near, among those that reach farthest of a noisy mesh: no two of its faces lie in one plane
_SHORT_MM = 0.02  # what a hull may leave out; one that leaves out more is none
_ONE_FACE = 0.9999999  # cosine of normals that are told as one
_MOST = 1000  # corners after which a hull is left as it is


@dataclass(frozen=True)
class Hull:
    """A convex solid by its corners (V, 3), outward normals of its faces (F, 3), and directions (E, 3) of its edges,
    each once."""

    corners: np.ndarray
    normals: np.ndarray
    edges: np.ndarray
    volume: float

    def within(self, low: np.ndarray, high: np.ndarray) -> "Hull":
        """The same, seen from the middle of a box, `low` and `high` (3,), with its half sizes as units."""
        half = 0.5 * (high - low)
        corners = (self.corners - 0.5 * (low + high)) / half
        return Hull(corners, self.normals * half, self.edges / half, self.volume / float(half.prod()))


def hull(points: np.ndarray) -> Hull | None:
    """The hull of points (P, 3) in mm, None where they are flat."""
    size = float(np.ptp(points, axis=0).max(initial=0.0))
    if size == 0.0:
        return None
    for some, step, most in ((points, _ON_PLANE * size, _CORNERS), (_farthest(points), _NOISE * size, _MOST)):
        found = _hull(some, step, most)
        if found and _left_out(points, found.corners) < _SHORT_MM:
            return found
    return None


def _farthest(points: np.ndarray) -> np.ndarray:
    """Those of some points (P, 3) that reach farthest along some direction."""
    return points[np.unique((points @ _WAYS.T).argmax(axis=0))]


def _left_out(points: np.ndarray, corners: np.ndarray) -> float:
    """How far points reach beyond the corners of their hull."""
    return float(((points @ _WAYS.T).max(axis=0) - (corners @ _WAYS.T).max(axis=0)).max())


def _hull(points: np.ndarray, step: float, most: int) -> Hull | None:
    """The same, points no farther than a step from a plane in it; None too where that takes more corners."""
    _, kept = np.unique(np.rint(points / step).astype(np.int64), axis=0, return_index=True)
    points = points[np.sort(kept)]
    first = _tetrahedron(points, step)
    if first is None:
        return None
    faces = _grown(points, first, step, most)
    if len(faces) > 2 * most and most < _MOST:
        return None
    a, b, c = (points[faces[:, n]] for n in range(3))
    normal = np.cross(b - a, c - a)
    middle = points[np.unique(faces)].mean(axis=0)
    volume = float(((a - middle) * normal).sum() / 6.0)
    area = np.sqrt((normal * normal).sum(axis=1))
    flat = area > step * step
    faces, normal = faces[flat], normal[flat] / area[flat, None]
    return Hull(points[np.unique(faces)], _each_once(normal), _edges(points, faces, normal), volume)


def _tetrahedron(points: np.ndarray, step: float) -> np.ndarray | None:
    """Four points (4,) that span the most, the first three counter-clockwise seen from outside."""
    axis = int(np.ptp(points, axis=0).argmax())
    a, b = int(points[:, axis].argmin()), int(points[:, axis].argmax())
    off = np.cross(points - points[a], points[b] - points[a])
    c = int((off * off).sum(axis=1).argmax())
    normal = np.cross(points[b] - points[a], points[c] - points[a])
    size = float(np.sqrt((normal * normal).sum()))
    if size <= step * step:
        return None
    height = (points - points[a]) @ normal / size
    d = int(np.abs(height).argmax())
    if abs(height[d]) <= step:
        return None
    return np.array([a, c, b, d] if height[d] > 0 else [a, b, c, d])


class _Faces:
    """The faces of a hull in the making, and the points that lie outside of each."""

    def __init__(self, points: np.ndarray, step: float):
        self.points, self.step = points, step
        self.corner = np.zeros((0, 3), dtype=np.int64)
        self.normal, self.offset = np.zeros((0, 3)), np.zeros(0)
        self.outside: list[np.ndarray] = []

    def put(self, corners: np.ndarray, loose: np.ndarray) -> None:
        """Adds faces (F, 3); each of the `loose` points goes to the one that it is farthest outside of."""
        a, b, c = (self.points[corners[:, n]] for n in range(3))
        normal = np.cross(b - a, c - a)
        size = np.sqrt((normal * normal).sum(axis=1))
        normal /= np.maximum(size, 1e-300)[:, None]
        normal[size <= self.step * self.step] = 0.0
        offset = (normal * a).sum(axis=1)
        out = self.points[loose] @ normal.T - offset
        best = out.argmax(axis=1)
        beyond = out[np.arange(len(loose)), best] > self.step
        self.outside += [loose[beyond & (best == n)] for n in range(len(corners))]
        self.corner = np.concatenate([self.corner, corners])
        self.normal, self.offset = np.concatenate([self.normal, normal]), np.concatenate([self.offset, offset])

    def take(self, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Takes faces (F,) away; their corners and the points that lay outside of them."""
        gone, kept = np.flatnonzero(chosen), np.flatnonzero(~chosen)
        corners, loose = self.corner[gone], np.concatenate([self.outside[n] for n in gone])
        self.corner, self.normal, self.offset = self.corner[kept], self.normal[kept], self.offset[kept]
        self.outside = [self.outside[n] for n in kept]
        return corners, loose


def _grown(points: np.ndarray, first: np.ndarray, step: float, most: int) -> np.ndarray:
    """Corners (F, 3) of the hull's triangles: from a tetrahedron on, what a point outside sees makes way for it."""
    faces = _Faces(points, step)
    a, b, c, d = first
    faces.put(np.array([[a, b, c], [a, d, b], [b, d, c], [c, d, a]]), np.arange(len(points)))
    for _ in range(most):
        waiting = next((n for n, outside in enumerate(faces.outside) if len(outside)), None)
        if waiting is None:
            break
        outside = faces.outside[waiting]
        eye = outside[(points[outside] @ faces.normal[waiting]).argmax()]
        seen = faces.normal @ points[eye] - faces.offset > step
        seen[waiting] = True
        corners, loose = faces.take(_together(faces.corner, seen, waiting))
        rim = _rim(corners)
        faces.put(np.column_stack([rim, np.full(len(rim), eye)]), loose[loose != eye])
    return faces.corner


def _together(corners: np.ndarray, seen: np.ndarray, first: int) -> np.ndarray:
    """Those of the faces seen (F,) that hang together with the first by edges: where faces nearly lie in one plane,
    rounding lets others seem to be seen that do not."""
    chosen = np.flatnonzero(seen)
    most, ends = corners.max() + 1, corners[chosen]
    there, back = ends * most + np.roll(ends, -1, axis=1), np.roll(ends, -1, axis=1) * most + ends
    reached = chosen == first
    while (more := ~reached & np.isin(back, there[reached]).any(axis=1)).any():
        reached |= more
    found = np.zeros_like(seen)
    found[chosen[reached]] = True
    return found


def _rim(corners: np.ndarray) -> np.ndarray:
    """Edges (R, 2) around some triangles (F, 3), in their direction."""
    edge = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    most = edge.max() + 1
    return edge[~np.isin(edge[:, 0] * most + edge[:, 1], edge[:, 1] * most + edge[:, 0])]


def _each_once(directions: np.ndarray) -> np.ndarray:
    kept, count = np.empty((len(directions), 3)), 0
    for each in directions:
        if not (kept[:count] @ each >= _ONE_FACE).any():
            kept[count], count = each, count + 1
    return kept[:count]


def _edges(points: np.ndarray, faces: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Directions of the edges between faces that do not lie in one plane, each once, either way."""
    edge = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    face = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort((edge.max(axis=1), edge.min(axis=1)))
    edge, face = np.sort(edge[order], axis=1), face[order]
    pair = np.flatnonzero((edge[1:] == edge[:-1]).all(axis=1))
    bent = (normal[face[pair]] * normal[face[pair + 1]]).sum(axis=1) < _ONE_FACE
    way = points[edge[pair[bent], 1]] - points[edge[pair[bent], 0]]
    way = way / np.sqrt((way * way).sum(axis=1))[:, None]
    steepest = np.take_along_axis(way, np.abs(way).argmax(axis=1)[:, None], axis=1)
    return _each_once(way * np.sign(steepest))


def _ways(number: int = 96, tilt: float = 0.05) -> np.ndarray:
    """Directions (D, 3), of length about 1: around each axis, a little tilted to either side, and along it."""
    angle = 2 * np.pi * np.arange(number) / number
    around = np.column_stack([np.cos(angle), np.sin(angle), np.full(number, tilt)])
    both = np.concatenate([around, around * (1, 1, -1), np.eye(3), -np.eye(3)])
    corner = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3.0)
    return np.concatenate([*(np.roll(both, axis, axis=1) for axis in range(3)), corner])


_WAYS = _ways()
BOX = Hull(
    np.array([(x, y, z) for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)]), np.eye(3), np.eye(3), 8.0
)  # seen with its half sizes as units; of two faces that look opposite ways one will do
