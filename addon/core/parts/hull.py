"""Convex hulls of a few hundred points: slopes, wedges, rounds and cones as they are, where a box would hold too much.

Barber, Dobkin, Huhdanpaa: The Quickhull Algorithm for Convex Hulls, ACM Transactions on Mathematical Software 22, 1996.
"""

from dataclasses import dataclass

import numpy as np

from ..rigid import crossed

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
    points = _distinct(points)  # of triangles six or so share a corner
    for some, step, most in ((points, _ON_PLANE * size, _CORNERS), (_farthest(points), _NOISE * size, _MOST)):
        found = _hull(some, step, most)
        if found and _left_out(points, found.corners) < _SHORT_MM:
            return found
    return None


def _distinct(points: np.ndarray) -> np.ndarray:
    """Points (P, 3), of those in one place the first."""
    order = np.lexsort(points.T)
    first = np.r_[True, (points[order[1:]] != points[order[:-1]]).any(axis=1)]
    return points[np.sort(order[first])]


def _farthest(points: np.ndarray) -> np.ndarray:
    """Those of some points (P, 3) that reach farthest along some direction."""
    return points[np.unique((_WAYS @ points.T).argmax(axis=1))]


def _left_out(points: np.ndarray, corners: np.ndarray) -> float:
    """How far points reach beyond the corners of their hull."""
    return float(((_WAYS @ points.T).max(axis=1) - (_WAYS @ corners.T).max(axis=1)).max())


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
    """The faces of a hull in the making, and the points that lie outside of each. Those that were taken away keep their
    numbers and look nowhere."""

    def __init__(self, points: np.ndarray, step: float):
        self.points, self.step = points, step
        self.count = 0
        self.corner = np.zeros((64, 3), dtype=np.int64)
        self.normal, self.offset = np.zeros((64, 3)), np.zeros(64)
        self.there = np.zeros(64, dtype=bool)
        self.outside: dict[int, np.ndarray] = {}  # of faces that have any

    def put(self, corners: np.ndarray, loose: np.ndarray) -> None:
        """Adds faces (F, 3); each of the `loose` points goes to the one that it is farthest outside of."""
        a, b, c = (self.points[corners[:, n]] for n in range(3))
        normal = np.ascontiguousarray(crossed((b - a).T, (c - a).T).T)
        size = np.sqrt((normal * normal).sum(axis=1))
        normal /= np.maximum(size, 1e-300)[:, None]
        normal[size <= self.step * self.step] = 0.0
        offset = (normal * a).sum(axis=1)
        out = self.points[loose] @ normal.T - offset
        best = out.argmax(axis=1)
        beyond = out[np.arange(len(loose)), best] > self.step
        for n in set(best[beyond].tolist()):
            self.outside[self.count + n] = loose[beyond & (best == n)]
        new = slice(self.count, self.count + len(corners))
        self._make_room(new.stop)
        self.corner[new], self.normal[new], self.offset[new], self.there[new] = corners, normal, offset, True
        self.count = new.stop

    def take(self, chosen: np.ndarray) -> np.ndarray:
        """Takes faces, by their numbers, away; the points that lay outside of them."""
        self.there[chosen], self.normal[chosen], self.offset[chosen] = False, 0.0, 0.0
        return np.concatenate([self.outside.pop(n) for n in chosen.tolist() if n in self.outside])

    def _make_room(self, count: int) -> None:
        while len(self.there) < count:
            names = ("corner", "normal", "offset", "there")
            for name in names:
                rows = getattr(self, name)
                setattr(self, name, np.concatenate([rows, np.zeros_like(rows)]))


def _grown(points: np.ndarray, first: np.ndarray, step: float, most: int) -> np.ndarray:
    """Corners (F, 3) of the hull's triangles: from a tetrahedron on, what a point outside sees makes way for it."""
    faces = _Faces(points, step)
    a, b, c, d = first
    faces.put(np.array([[a, b, c], [a, d, b], [b, d, c], [c, d, a]]), np.arange(len(points)))
    for _ in range(most):
        if not faces.outside:
            break
        waiting = min(faces.outside)
        outside = faces.outside[waiting]
        eye = outside[(points[outside] @ faces.normal[waiting]).argmax()]
        seen = faces.normal[: faces.count] @ points[eye] - faces.offset[: faces.count] > step
        seen[waiting] = True
        taken = _together(faces.corner, np.flatnonzero(seen), waiting)
        loose = faces.take(taken)
        rim = _rim(faces.corner[taken])
        faces.put(np.array([(a, b, eye) for a, b in rim]), loose[loose != eye])
    return faces.corner[faces.there]


def _together(corner: np.ndarray, seen: np.ndarray, first: int) -> np.ndarray:
    """Those of the faces seen, by their numbers, that hang together with the first by edges: where faces nearly lie in
    one plane, rounding lets others seem to be seen that do not."""
    loops = {face: (a, b, c) for face, (a, b, c) in zip(seen.tolist(), corner[seen].tolist(), strict=True)}
    beside = {edge: face for face, (a, b, c) in loops.items() for edge in ((b, a), (c, b), (a, c))}
    reached, ahead = {first}, [first]
    while ahead:
        a, b, c = loops[ahead.pop()]
        more = {beside[edge] for edge in ((a, b), (b, c), (c, a)) if edge in beside} - reached
        reached |= more
        ahead += more
    return np.array(sorted(reached))


def _rim(corners: np.ndarray) -> list[tuple[int, int]]:
    """Edges around some triangles (F, 3), in their direction."""
    a, b, c = corners.T.tolist()
    there = [*zip(a, b, strict=True), *zip(b, c, strict=True), *zip(c, a, strict=True)]
    inner = set(there)
    return [(start, end) for start, end in there if (end, start) not in inner]


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
