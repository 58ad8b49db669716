"""How deep bricks cut into each other: separating axes on the true, turned boxes of their bodies.

Gottschalk, Lin, Manocha: OBBTree, SIGGRAPH 1996: two boxes are apart exactly if they are apart along one of the
fifteen axes made of their face normals and the products of their edges.
"""

import numpy as np

from . import rigid


def penetration(centre: np.ndarray, axes: np.ndarray, half: np.ndarray, pairs: np.ndarray) -> np.ndarray:
    """Depth (P,) in mm by which the boxes of each pair (P, 2) overlap; negative: a lower bound of their distance.

    Boxes are given by centres (N, 3), axes in columns (N, 3, 3) and half sizes (N, 3).
    """
    i, j = pairs.T
    apart = centre[j] - centre[i]
    depth = np.full(len(pairs), np.inf)
    normals = [axes[i, :, k] for k in range(3)] + [axes[j, :, k] for k in range(3)]
    crossed = [np.cross(axes[i, :, a], axes[j, :, b]) for a in range(3) for b in range(3)]
    for direction in normals + crossed:
        size = rigid.length(direction)
        parallel = size < 1e-9
        unit = direction / np.where(parallel, 1.0, size)[:, None]
        overlap = _reach(unit, axes[i], half[i]) + _reach(unit, axes[j], half[j]) - np.abs(rigid.dot(unit, apart))
        depth = np.where(parallel, depth, np.minimum(depth, overlap))
    return depth


def _reach(direction: np.ndarray, axes: np.ndarray, half: np.ndarray) -> np.ndarray:
    """How far a box reaches from its centre along a direction."""
    return rigid.dot(np.abs(rigid.turned(rigid.transpose(axes), direction)), half)
