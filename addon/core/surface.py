"""How far points are from a surface of triangles."""

import numpy as np


def distances(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """(P,) distance of each point (P, 3) to the nearest of triangles (T, 3, 3).

    Each triangle's nearest point by the regions of its plane: Ericson, Real-Time Collision Detection (2005), 5.1.5.
    """
    a, b, c = np.moveaxis(triangles, 1, 0)
    nearest = np.full(len(points), np.inf)
    for n, point in enumerate(points):
        nearest[n] = _to_triangles(point, a, b, c)
    return nearest


def _to_triangles(p, a, b, c) -> float:
    normal = np.cross(b - a, c - a)
    size = np.einsum("ij,ij->i", normal, normal)
    flat = np.maximum(size, 1e-300)
    inside = size > 0
    for start, end in ((a, b), (b, c), (c, a)):
        inside &= np.einsum("ij,ij->i", np.cross(end - start, p - start), normal) >= 0
    off = np.einsum("ij,ij->i", p - a, normal) ** 2 / flat
    least = off[inside].min(initial=np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        along = end - start
        share = np.einsum("ij,ij->i", p - start, along) / np.maximum(np.einsum("ij,ij->i", along, along), 1e-300)
        gap = p - start - np.clip(share, 0.0, 1.0)[:, None] * along
        least = min(least, np.einsum("ij,ij->i", gap, gap).min())
    return float(np.sqrt(least))
