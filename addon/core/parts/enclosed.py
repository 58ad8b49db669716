"""What the faces of a mesh enclose, whatever way flat ones are cut into others."""

import numpy as np

from ..counts import within


def integrals(points: np.ndarray, corners: np.ndarray, starts: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    """Of points (V, 3) and faces, each so many of the corners from a start on: volume, first and second moments (13,)
    about the origin, by signed tetrahedra from there, so that a flat face may be hollow and cut as one likes."""
    count = np.maximum(sizes - 2, 0)
    face = np.repeat(np.arange(len(sizes)), count)
    step = within(count)
    first = starts[face]
    a, b, c = (points[corners[at]] for at in (first, first + step + 1, first + step + 2))
    volume = np.einsum("ti,ti->t", a, np.cross(b, c)) / 6.0
    total = a + b + c
    arms = np.concatenate([a, b, c, total])
    second = (np.tile(volume, 4)[:, None] * arms).T @ arms / 20.0
    return np.concatenate([[volume.sum()], volume @ total / 4.0, second.ravel()])
