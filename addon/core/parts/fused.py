"""Solids that are several bricks, because the faces where these touch were left out of the export.

What is left of such a face is its outline: a ring of edges in one plane around the whole solid, at which its walls go
on straight or turn back along themselves. A solid of one piece has no use for it.
"""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from ..sizes import MET, TRADE
from . import surface
from .shells import connected, weld

_STEPS_MM, _OFF_STEP_MM = (
    np.array([TRADE.plate_height, TRADE.half_pitch]),
    0.15,
)  # bricks end at whole plates or half pitches
_IN_PLANE_MM = 0.01
_STRAIGHT = 1e-6  # off a cosine of 1 or -1
_UPRIGHT = 1e-3  # of walls: bricks that touch face to face end square, a cone that is drawn with rings does not


def parted(points: np.ndarray, triangles: np.ndarray, face: np.ndarray, label: np.ndarray) -> np.ndarray:
    """Labels (T,) finer than `label` (T,) of shells, -1 for none: each shell parted at the rings around it.

    Points (V, 3) are in mm along the axes that the bricks lie along; `face` (T,) is the polygon that each triangle is
    of, through which no ring goes. The parts of a shell follow each other where the shell was.
    """
    used = np.flatnonzero(label >= 0)
    edges = _Edges.of(points, triangles[used], face[used], label[used])
    part = np.zeros(len(used), dtype=np.int64)
    for shell, rings in edges.rings().items():
        own = np.flatnonzero(label[used] == shell)
        part[own] = _parts(points[triangles[used[own]]], own, edges[edges.shell == shell], rings)
    found = np.full(len(label), -1)
    found[used] = np.unique(np.stack([label[used], part]), axis=1, return_inverse=True)[1].ravel()
    return found


@dataclass(frozen=True)
class _Edges:
    """E edges between triangles of one shell: the triangles (E, 2), the shell (E,), the ends as welded points (E, 2)
    and where these lie (E, 2, 3), one of the normals (E, 3), and whether polygons meet there on which the surface goes
    on straight or turns back (E,)."""

    triangles: np.ndarray
    shell: np.ndarray
    ends: np.ndarray
    places: np.ndarray
    normal: np.ndarray
    plain: np.ndarray

    def __getitem__(self, chosen: np.ndarray) -> "_Edges":
        return _Edges(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    @classmethod
    def of(cls, points, triangles, face, label) -> "_Edges":
        welded, corners = weld(points, triangles).ravel(), triangles.ravel()
        half = np.arange(len(corners))
        after = np.where(half % 3 == 2, half - 2, half + 1)
        ends = np.sort(np.stack([welded, welded[after]], axis=1), axis=1)
        shell = np.repeat(label, 3)
        order = np.lexsort((ends[:, 1], ends[:, 0], shell))
        key = np.c_[shell, ends][order]
        at = np.flatnonzero((key[1:] == key[:-1]).all(axis=1))  # more than two around an edge hang in a row
        one, both = order[at], np.stack([order[at], order[at + 1]], axis=1) // 3
        normal, _ = surface.normals(points[triangles])
        turn = np.einsum("ij,ij->i", normal[both[:, 0]], normal[both[:, 1]])
        plain = (np.abs(turn) > 1 - _STRAIGHT) & (face[both[:, 0]] != face[both[:, 1]])
        places = points[np.stack([corners[one], corners[after[one]]], axis=1)]
        return cls(both, shell[one], ends[one], places, normal[both[:, 0]], plain)

    def in_plane(self, axis: int) -> np.ndarray:
        """(E,) which edges lie across an axis."""
        return np.abs(self.places[:, 0, axis] - self.places[:, 1, axis]) < _IN_PLANE_MM

    def rings(self) -> dict[int, list[tuple[int, float]]]:
        """By shell the planes (axis, place in mm) in which closed rows of plain edges lie."""
        found = defaultdict(list)
        for axis in range(3):
            edges = self[self.plain & self.in_plane(axis) & (np.abs(self.normal[:, axis]) < _UPRIGHT)]
            edges = edges[np.lexsort((edges.places[:, 0, axis], edges.shell))]
            place = edges.places[:, 0, axis]
            begins = np.r_[True, (np.diff(edges.shell) != 0) | (np.diff(place) > _IN_PLANE_MM)][: len(place)]
            plane = np.cumsum(begins) - 1
            first = np.flatnonzero(begins)
            for n in first[np.unique(plane[_in_closed_rows(edges.ends, plane)])]:
                found[int(edges.shell[n])].append((axis, place[n]))
        return found


def _in_closed_rows(ends: np.ndarray, plane: np.ndarray) -> np.ndarray:
    """Numbers of the edges that are left in each plane when those with a loose end are taken off, again and again."""
    left = np.arange(len(ends))
    while len(left):
        spots = np.c_[np.repeat(plane[left], 2), ends[left].ravel()]
        _, number, count = np.unique(spots, axis=0, return_inverse=True, return_counts=True)
        held = (count[number.reshape(-1, 2)] > 1).all(axis=1)
        if held.all():
            break
        left = left[held]
    return left


def _parts(corners: np.ndarray, own: np.ndarray, edges: _Edges, rings: list[tuple[int, float]]) -> np.ndarray:
    """The number (T,) of the brick that each triangle `own` (T,) of a shell, corners (T, 3, 3), is of."""
    first, second = np.searchsorted(own, edges.triangles).T
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    whole = connected(len(own), first, second).max()
    kept = np.ones(len(first), dtype=bool)
    for axis, place in rings:
        off = np.array([place - low[axis], high[axis] - place])[:, None]
        if (np.abs(off - _STEPS_MM * np.rint(off / _STEPS_MM)) > _OFF_STEP_MM).all():
            continue
        joined = ~(edges.plain & edges.in_plane(axis) & (np.abs(edges.places[:, 0, axis] - place) < _IN_PLANE_MM))
        part = connected(len(own), first[joined], second[joined])
        if part.max() > whole and _thinnest(corners, part) >= MET.plate_height.least:
            kept &= joined
    return connected(len(own), first[kept], second[kept])


def _thinnest(corners: np.ndarray, part: np.ndarray) -> float:
    """The least side in mm of the boxes around parts (T,) of triangles (T, 3, 3)."""
    low, high = np.full((part.max() + 1, 3), np.inf), np.full((part.max() + 1, 3), -np.inf)
    np.minimum.at(low, part, corners.min(axis=1))
    np.maximum.at(high, part, corners.max(axis=1))
    return float((high - low).min())
