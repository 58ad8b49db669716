"""What one shell measures, however it lies."""

import numpy as np

_ALONG = 0.999  # cosine from which a face looks along an axis
_PLAIN = 0.3  # share of the surface that looks along the file's axes where these are the shell's own


def measured(triangles: np.ndarray) -> tuple[float, float, np.ndarray]:
    """Volume, area, and size (3,) along its own axes of a shell of triangles (T, 3, 3).

    Its own axes are those its largest faces look along: the file's where enough of it does.
    """
    a, b, c = np.moveaxis(triangles - triangles[0, 0], 1, 0)
    normal = 0.5 * np.cross(b - a, c - a)
    area = np.sqrt((normal * normal).sum(axis=1))
    volume = abs(float((a * normal).sum()) / 3)
    flat = normal / np.maximum(area, 1e-300)[:, None]
    plain = area[np.abs(flat).max(axis=1) > _ALONG].sum() >= _PLAIN * area.sum()
    points = triangles.reshape(-1, 3)
    if not plain:
        points = points @ _axes(flat, area).T
    return volume, float(area.sum()), np.ptp(points, axis=0)


def _axes(normals: np.ndarray, area: np.ndarray) -> np.ndarray:
    """Three directions (3, 3) at right angles: where most of the surface looks, and most of what is square to it."""
    first = _commonest(normals, area)
    square = np.abs(normals @ first) < 0.02
    second = _commonest(normals[square], area[square]) if square.any() else np.roll(first, 1)
    second = second - (second @ first) * first
    second /= max(np.linalg.norm(second), 1e-300)
    return np.stack([first, second, np.cross(first, second)])


def _commonest(normals: np.ndarray, area: np.ndarray) -> np.ndarray:
    """The direction that most area looks along, either way."""
    tried = normals[np.argsort(-area, kind="stable")[:12]]
    along = (np.abs(tried @ normals.T) > _ALONG) @ area
    return tried[along.argmax()]
