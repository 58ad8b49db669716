"""Convex bodies, and how deep two of them lie in each other.

Two convex bodies are apart exactly if they are apart along a face's normal of one of them or across an edge of each.
The least overlap along all these is how far one must move to leave the other: they are the faces of the bodies'
Minkowski difference (Ericson: Real-Time Collision Detection, 2004, chapter 5; cited from memory).
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

_SAME = 1e-9  # directions that differ by less are one
_CLEAR_MM = 1e-8  # an overlap of less is none


@dataclass(frozen=True)
class Hull:
    vertices: np.ndarray  # (V, 3)
    normals: np.ndarray  # (N, 3) of its faces, each direction once
    edges: np.ndarray  # (E, 3) unit directions, each once

    @classmethod
    def around(cls, points: np.ndarray) -> "Hull":
        """By scipy's Qhull."""
        hull = ConvexHull(points)
        normals = hull.equations[:, :3]
        a, b = (np.repeat(np.arange(len(normals)), 3), hull.neighbors.ravel())
        ends = hull.simplices[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2)  # neighbour k lies across from corner k
        sharp = (a < b) & (_dot(normals[a], normals[b]) < 1 - 1e-12)
        edges = np.diff(hull.points[ends[sharp]], axis=1)[:, 0]
        return cls(hull.points[hull.vertices], _lines(normals), _lines(edges))

    def posed(self, turn: np.ndarray, shift: np.ndarray) -> "Hull":
        """Turned, or mirrored, and then moved."""
        return Hull(self.vertices @ turn.T + shift, self.normals @ turn.T, self.edges @ turn.T)


def _dot(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    return np.einsum("ij,ij->i", first, second)


def _lines(directions: np.ndarray) -> np.ndarray:
    """Unit directions, each once, whichever way it points."""
    unit = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    largest = np.abs(unit.round(6)).argmax(axis=1)
    unit *= np.sign(unit[np.arange(len(unit)), largest])[:, None]
    _, first = np.unique((unit / _SAME).round().astype(np.int64), axis=0, return_index=True)
    return unit[first]


def depth(one: Hull, other: Hull) -> float:
    """How deep (mm) two bodies lie in each other; negative where they are apart, then no more than a bound."""
    least = _overlap(one, other, np.concatenate([one.normals, other.normals]))
    if least <= _CLEAR_MM:
        return least
    crossed = np.cross(one.edges[:, None], other.edges[None]).reshape(-1, 3)
    size = np.linalg.norm(crossed, axis=1)
    crossed, size = crossed[size > _SAME], size[size > _SAME]
    return min(least, _overlap(one, other, crossed / size[:, None])) if len(size) else least


def _overlap(one: Hull, other: Hull, directions: np.ndarray) -> float:
    first, second = one.vertices @ directions.T, other.vertices @ directions.T
    ahead = first.max(axis=0) - second.min(axis=0)
    behind = second.max(axis=0) - first.min(axis=0)
    return float(np.minimum(ahead, behind).min())
