"""The normals of a rounded mesh: flat faces stay flat to their rims, and the roundings between them turn smoothly."""

from dataclasses import dataclass

import numpy as np

from .. import units
from ..counts import within

_SMOOTH = np.cos(units.radians(30.0))  # faces of one curved surface lean less than this against each other


@dataclass(frozen=True)
class Faces:
    """Polygons: F of them with C corners in all."""

    points: np.ndarray  # (V, 3)
    corners: np.ndarray  # (C,) whose point each corner is, face after face
    sizes: np.ndarray  # (F,) corners of each face

    @property
    def face(self) -> np.ndarray:
        """(C,) which face each corner belongs to."""
        return np.repeat(np.arange(len(self.sizes)), self.sizes)

    @property
    def start(self) -> np.ndarray:
        """(F,) the first corner of each face."""
        return np.cumsum(self.sizes) - self.sizes

    @property
    def following(self) -> np.ndarray:
        """(C,) the next corner of the same face, all around."""
        start, following = self.start, np.arange(len(self.corners)) + 1
        following[start + self.sizes - 1] = start
        return following

    @property
    def vectors(self) -> np.ndarray:
        """(F, 3) normals, as long as twice the area (Newell's sum)."""
        start, following = self.start, self.following
        origin = self.points[self.corners[start]][self.face]  # near by, for the sake of the last digits
        here, there = self.points[self.corners] - origin, self.points[self.corners[following]] - origin
        return np.add.reduceat(np.cross(here, there), start, axis=0)


def corner_normals(faces: Faces, flat: np.ndarray) -> np.ndarray:
    """Unit normals (C, 3) of all corners; `flat` (F,) are the faces that were there before the edges were rounded.

    A corner of such a face takes the mean of those around its point that belong to the same surface. A corner of a
    rounding takes the normal of the surface that it runs into there, and within the rounding the mean of all around.
    """
    vectors, face = faces.vectors, faces.face
    outward = unit(vectors)
    one, other = _neighbours(faces.corners)  # pairs of corners that share a point, each with itself, too
    facing = (outward[face[one]] * outward[face[other]]).sum(axis=1)
    flat_one, flat_other = flat[face[one]], flat[face[other]]

    surface = np.zeros((len(face), 3))
    alike = flat_one & flat_other & (facing > _SMOOTH)
    np.add.at(surface, one[alike], vectors[face[other[alike]]])
    inside = np.zeros((len(face), 3))
    np.add.at(inside, one, vectors[face[other]])
    runs_into = _most_alike(
        len(face), one[~flat_one & flat_other], other[~flat_one & flat_other], facing[~flat_one & flat_other]
    )
    normals = np.where(flat[face][:, None], surface, np.where(runs_into[:, None] >= 0, surface[runs_into], inside))
    return unit(normals)


def _most_alike(count: int, one: np.ndarray, other: np.ndarray, facing: np.ndarray) -> np.ndarray:
    """For each of `count` corners that one of the pairs which faces most its way, -1 for none."""
    best = np.full(count, -1)
    order = np.lexsort((-other, facing))  # the last one written stays: the most alike, the first of equal ones
    best[one[order]] = other[order]
    return best


def _neighbours(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    order = np.argsort(corners, kind="stable")
    _, start, count = np.unique(corners[order], return_index=True, return_counts=True)
    size, first = np.repeat(count, count), np.repeat(start, count)
    one = np.repeat(order, size)
    return one, order[np.repeat(first, size) + within(size)]


def unit(vectors: np.ndarray) -> np.ndarray:
    """Vectors (N, 3) made as long as 1; what has no length keeps none."""
    return vectors / np.maximum(np.sqrt((vectors**2).sum(axis=1, keepdims=True)), 1e-30)
