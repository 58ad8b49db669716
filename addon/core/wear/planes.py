"""Flat faces made flat again: points that lie a few micrometres beside the planes they were drawn in go back into them.

Exports that round their coordinates, or quantise them, leave such points; whoever looks at the angles between faces
then sees a ridge along each triangle.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..parts.shells import connected
from .creases import Faces, unit

NOISE_MM = 2e-2  # a ridge lower than this is none
_EXACT_MM = 1e-4  # what single precision leaves
_FARTHEST_MM = 2.0 * NOISE_MM  # where planes meet at a narrow angle it may be far to their line
_BARELY = 1e-2  # planes that lean this little (rad, squared) against each other do not pin a point between them
_REPEATS = 4
_PASSES = 4  # narrow faces, which lean the most, join when those around them lie right


@dataclass(frozen=True)
class _Planes:
    """P planes through K points of a mesh, each point once a plane."""

    normal: np.ndarray  # (P, 3)
    offset: np.ndarray  # (P,) mm
    plane: np.ndarray  # (K,)
    point: np.ndarray  # (K,)

    def off(self, points: np.ndarray) -> np.ndarray:
        """How far (K,) above its plane each point lies, mm."""
        return (points[self.point] * self.normal[self.plane]).sum(axis=1) - self.offset[self.plane]


def flattened(faces: Faces) -> Faces:
    """The faces, their points moved into the planes of the faces around; the very same ones where they lie there.

    Faces share a plane where a ridge between them is lower than `NOISE_MM`; a surface that goes on bending so is left
    alone. Each point takes the least way to all of its planes (a regularised least-squares solution, repeated).
    """
    place, point = np.unique(faces.points, axis=0, return_inverse=True)  # split points stay where the others are
    found = joined = Faces(place, point.reshape(-1)[faces.corners], faces.sizes)
    for _ in range(_PASSES):
        planes = _planes(found)
        if not len(planes.point) or np.abs(planes.off(found.points)).max() <= _EXACT_MM:
            break
        found = replace(found, points=_moved(found.points, planes))
    if found is joined:
        return faces
    far = np.linalg.norm(found.points - place, axis=1) > _FARTHEST_MM
    return replace(faces, points=np.where(far[:, None], place, found.points)[point.reshape(-1)])


def _moved(points: np.ndarray, planes: _Planes) -> np.ndarray:
    normal = planes.normal[planes.plane]
    pinned = np.tile(_BARELY * np.eye(3), (len(points), 1, 1))
    np.add.at(pinned, planes.point, normal[:, :, None] * normal[:, None, :])
    loose = _inverse(pinned)
    for _ in range(_REPEATS):
        pull = np.zeros_like(points)
        np.add.at(pull, planes.point, planes.off(points)[:, None] * normal)
        points = points - (loose * pull[:, None, :]).sum(axis=2)
    return points


def _planes(faces: Faces) -> _Planes:
    vectors, face = faces.vectors, faces.face
    group = connected(len(vectors), *_ridgeless(faces, vectors))
    normal = np.zeros((group.max(initial=-1) + 1, 3))
    np.add.at(normal, group, vectors)
    normal = unit(normal)
    pairs = np.unique(np.stack([group[face], faces.corners]), axis=1)
    height = (faces.points[pairs[1]] * normal[pairs[0]]).sum(axis=1)
    offset = np.bincount(pairs[0], height) / np.bincount(pairs[0])
    made = _Planes(normal, offset, *pairs)
    apart = np.zeros(len(normal))
    np.maximum.at(apart, made.plane, np.abs(made.off(faces.points)))
    flat = (apart < 2.0 * NOISE_MM)[made.plane]
    return replace(made, plane=made.plane[flat], point=made.point[flat])


def _ridgeless(faces: Faces, vectors: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of faces, (N,) and (N,), that meet at an edge whose ridge is lower than `NOISE_MM`."""
    one, other = _neighbours(faces)
    outward, origin = unit(vectors), faces.points[faces.corners[faces.start]]
    low = np.minimum(_above(faces, one, outward[other], origin[other]), _above(faces, other, outward[one], origin[one]))
    alike = (low < NOISE_MM) & ((outward[one] * outward[other]).sum(axis=1) > 0.0)
    return one[alike], other[alike]


def _above(faces: Faces, which: np.ndarray, normal: np.ndarray, origin: np.ndarray) -> np.ndarray:
    """How far (N,) the farthest corner of each of some faces lies beside a plane of its own."""
    size = faces.sizes[which]
    first = np.cumsum(size) - size
    pair = np.repeat(np.arange(len(which)), size)
    corner = faces.corners[faces.start[which][pair] + np.arange(len(pair)) - first[pair]]
    beside = ((faces.points[corner] - origin[pair]) * normal[pair]).sum(axis=1)
    return np.maximum.reduceat(np.abs(beside), first) if len(which) else np.zeros(0)


def _neighbours(faces: Faces) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of faces, (E,) and (E,), that alone share an edge."""
    ends = np.sort(np.stack([faces.corners, faces.corners[faces.following]]), axis=0)
    _, edge, count = np.unique(ends, axis=1, return_inverse=True, return_counts=True)
    order = np.argsort(edge.ravel(), kind="stable")
    order = order[count[edge.ravel()[order]] == 2]
    return faces.face[order[::2]], faces.face[order[1::2]]


def _inverse(matrices: np.ndarray) -> np.ndarray:
    """The inverses (V, 3, 3) of symmetric matrices: their adjugates by their determinants."""
    rows = [matrices[:, n] for n in range(3)]
    adjugate = np.stack([np.cross(rows[(n + 1) % 3], rows[(n + 2) % 3]) for n in range(3)], axis=2)
    return adjugate / (rows[0] * adjugate[:, :, 0]).sum(axis=1)[:, None, None]
