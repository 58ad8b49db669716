"""Which face the samples of a picture meet first: faces drawn row by row, those in front before those behind.

Edges are planes through the eye, so that nothing is clipped where a face reaches behind it (Olano and Greer 1997). What
lies wholly behind what is drawn already is told by a pyramid of depths and left out (Greene, Kass and Miller 1993). All
of it in + - * /, as in `rigid`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from .. import rigid
from ..counts import within
from .grid import Grid
from .lens import Lens

_ROOM = 4  # so many times the picture may faces span that are drawn together, before depths are looked at again
_NOTHING = np.iinfo(np.int64).max


@dataclass(frozen=True)
class Surface:
    """Flat and convex faces of corners once around; a triangle has its last corner twice."""

    corners: np.ndarray  # (V, 3) mm
    faces: np.ndarray  # (F, 4)
    solid: np.ndarray  # (F,) a closed one, whose faces go anticlockwise seen from outside; -1: none

    @cached_property
    def planes(self) -> tuple[np.ndarray, np.ndarray]:
        """Normals (3, F), outwards, of any length, and how far (F,) they reach."""
        a, b, c, d = (rigid.across(self.corners[ends]) for ends in self.faces.T)
        normal = rigid.crossed(c - a, d - b)
        return normal, rigid.weighted(normal, a)


def met(lens: Lens, surface: Surface, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """The face (R, C) that samples meet first between the clipping distances, -1 for none, and its depth (R, C) there
    in mm."""
    picture = _Picture(lens, grid)
    if grid.samples:
        points = lens.homogeneous(surface.corners)
        for part in picture.parts(points, surface.faces, _may_be_seen(lens, points, surface)):
            picture.draw(part.only(~picture.hides(part)))
    return picture.face.reshape(picture.shape), lens.nearness(picture.near).reshape(picture.shape)


def _may_be_seen(lens: Lens, points: np.ndarray, surface: Surface) -> np.ndarray:
    """Faces, by their numbers, that no solid hides with its own front: not the backs of those that the near clipping
    leaves whole."""
    normal, reach = surface.planes
    *eye, scale = lens.eye
    cut = np.zeros(surface.solid.max(initial=0) + 2, dtype=bool)
    cut[-1] = True  # what is no solid
    before = (-points[2] if lens.orthographic else points[3]) < lens.near_mm
    if before.any():
        cut[surface.solid[before[surface.faces].any(axis=1)]] = True
    return np.flatnonzero((rigid.weighted(normal, eye) > scale * reach) | cut[surface.solid])


@dataclass(frozen=True)
class _Faces:
    """Faces as linear functions of the picture's x and y and of one."""

    number: np.ndarray  # (N,)
    bounds: np.ndarray  # (4, N) first and last column and row of samples that may lie in it
    most: np.ndarray  # (N,) how near it comes
    edges: np.ndarray  # (4, 3, N) of each edge one that is not negative within
    near: np.ndarray  # (3, N)

    def only(self, which: np.ndarray) -> "_Faces":
        return _Faces(*(each.compress(which, axis=-1) for each in vars(self).values()))

    def part(self, first: int, last: int) -> "_Faces":
        return _Faces(*(each[..., first:last] for each in vars(self).values()))

    @property
    def samples(self) -> np.ndarray:
        """(N,) in their bounds."""
        left, right, low, high = self.bounds.astype(np.int64)
        return (right - left + 1) * (high - low + 1)


class _Picture:
    """Samples in rows, and what each meets first of what is drawn so far."""

    def __init__(self, lens: Lens, grid: Grid):
        self.shape = grid.rows, grid.columns
        self._grid, self._x, self._y = grid, grid.x, grid.y
        self._nearest, self._farthest = lens.nearness(np.array([lens.near_mm, lens.far_mm])).tolist()
        self.near = np.full(grid.samples, self._farthest)
        self.face = np.full(len(self.near), -1)

    def parts(self, points: np.ndarray, faces: np.ndarray, some: np.ndarray) -> Iterator[_Faces]:
        """Those of some faces that samples may meet, nearest first, as many at once as there is room for."""
        ends = rigid.across(faces.take(some, axis=0))
        bounds, most = self._bounds(points, ends)
        held = (bounds[0] <= bounds[1]) & (bounds[2] <= bounds[3]) & (most > self._farthest)
        held = np.flatnonzero(held & ~self._is_beside(points, ends))
        held = held[np.argsort(-most[held], kind="stable")]
        planes = _planes(points.take(ends.take(held, axis=1), axis=1))
        found = _Faces(some[held], bounds.take(held, axis=1), most[held], *planes)
        start = np.flatnonzero(np.diff(np.cumsum(found.samples) // (_ROOM * len(self.near)), prepend=-1))
        for first, last in pairwise([*start.tolist(), len(found.number)]):
            yield found.part(first, last)

    def _bounds(self, points: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Bounds (4, F) of faces, the whole picture where one reaches behind the eye, and how near (F,) each comes."""
        x, y, near, scale = points
        ahead, bounds = scale > 0.0, []
        with np.errstate(divide="ignore", invalid="ignore"):
            for place, first, last, step, count in self._sides(x / scale, y / scale):
                low = np.where(ahead, np.ceil((place - last) / step), -np.inf)[ends].min(axis=0)
                high = np.where(ahead, np.floor((place - first) / step), np.inf)[ends].max(axis=0)
                bounds += [np.clip(low, 0, count).astype(np.int32), np.clip(high, -1, count - 1).astype(np.int32)]
            return np.stack(bounds), np.where(ahead, near / scale, np.inf)[ends].max(axis=0)

    def _sides(self, x: np.ndarray, y: np.ndarray) -> Iterator[tuple[np.ndarray, float, float, float, int]]:
        """Across and up: the places, between which two the first samples lie, their step and their number."""
        grid = self._grid
        yield x, self._x.min(), self._x.max(), grid.step_x, grid.columns
        yield y, self._y[0], self._y[0], grid.step_y, grid.rows

    def _is_beside(self, points: np.ndarray, ends: np.ndarray) -> np.ndarray:
        """Which faces lie wholly behind the eye, or reach behind it and lie beyond one side of the picture."""
        beside = ~(points[3] > 0.0)[ends].all(axis=0)
        across = np.flatnonzero(beside)
        x, y, _, scale = points.take(ends.take(across, axis=1), axis=1)
        out = (scale <= 0.0).all(axis=0)
        for place, first, last, step, count in self._sides(x, y):
            out |= (place < first * scale).all(axis=0) | (place > (last + step * count) * scale).all(axis=0)
        beside[across] = out
        return beside

    def hides(self, faces: _Faces) -> np.ndarray:
        """Which faces lie behind what is drawn already in all of their bounds."""
        left, right, low, high = faces.bounds
        level = np.frexp(np.maximum(right - left, high - low) + 0.5)[1]  # where they are two squares wide at the most
        depths, start, wide = self._pyramid(int(level.max(initial=0)))
        corners = (start[level] + (y >> level) * wide[level] + (x >> level) for y in (low, high) for x in (left, right))
        return faces.most <= np.min([depths[each] for each in corners], axis=0)

    def _pyramid(self, levels: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """What is drawn farthest in squares of 1, 2, 4, … samples, one level after another, where each level starts and
        how wide it is."""
        found = [self.near.reshape(self.shape)]
        for _ in range(levels):
            found.append(_halved(_halved(found[-1]).T).T)
        size, wide = np.array([each.size for each in found]), np.array([each.shape[1] for each in found])
        return np.concatenate([each.ravel() for each in found]), np.cumsum(size) - size, wide

    def draw(self, faces: _Faces) -> None:
        row, face, left, count = self._spans(faces)
        a, b, c = faces.near[:, face]
        along, span = b * self._y[row] + c, np.repeat(np.arange(len(count)), count)
        column = left[span] + within(count)
        near = a[span] * (self._x[row][span] + self._grid.step_x * column) + along[span]
        self._keep(row[span] * self.shape[1] + column, near, faces.number[face[span]])

    def _spans(self, faces: _Faces) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Rows of samples in faces: which row, of which face, its first column and how many there are."""
        left, right, low, high = faces.bounds
        face = np.repeat(np.arange(len(low)), high - low + 1)
        row = low[face] + within(high - low + 1)
        y, first, last = self._y[row], np.full(len(row), -np.inf), np.full(len(row), np.inf)
        with np.errstate(divide="ignore", invalid="ignore"):
            for edge in faces.edges:
                a, b, c = edge[:, face]
                rest = b * y + c
                end = -rest / a
                first = np.maximum(first, np.where(a > 0.0, end, -np.inf))
                last = np.minimum(last, np.where(a < 0.0, end, np.where((a == 0.0) & (rest < 0.0), -np.inf, np.inf)))
        start, step = self._x[row], self._grid.step_x
        first = np.maximum(np.ceil((first - start) / step), left[face])
        last = np.minimum(np.floor((last - start) / step), right[face])
        some = np.flatnonzero(first <= last)
        first, last = first[some].astype(np.int64), last[some].astype(np.int64)
        return row[some], face[some], first, last - first + 1

    def _keep(self, sample: np.ndarray, near: np.ndarray, face: np.ndarray) -> None:
        """What is nearer than what is drawn already; of what is as near, the face of the smallest number."""
        some = np.flatnonzero((near > self.near[sample]) & (near <= self._nearest))
        sample, near, face = sample[some], near[some], face[some]
        np.maximum.at(self.near, sample, near)
        first = np.flatnonzero(near == self.near[sample])
        sample, face = sample[first], face[first]
        self.face[sample] = _NOTHING
        np.minimum.at(self.face, sample, face)


def _planes(ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Edges (4, 3, N) and nearness (3, N) of faces by their corners (4, 4, N), a corner a column; nothing lies within
    the edges of one that the eye sees edge on."""
    corner, near = [ends[[0, 1, 3], k] for k in range(4)], ends[2]
    edges = np.stack([rigid.crossed(corner[k], corner[(k + 1) % 4]) for k in range(4)])
    one, other, across = edges[1] + edges[2], edges[0] + edges[3], rigid.crossed(corner[2], corner[0])
    volume = rigid.weighted(corner[0], one)  # that the face spans with the eye
    with np.errstate(divide="ignore", invalid="ignore"):
        plane = (near[0] * one + (near[1] - near[3]) * across + near[2] * other) / volume
    edges *= np.sign(volume)
    edges[0, 2, volume == 0.0] = -1.0
    return edges, plane


def _halved(rows: np.ndarray) -> np.ndarray:
    """The less of each two rows; an odd last one stays."""
    found, pairs = rows[::2].copy(), len(rows) // 2
    np.minimum(found[:pairs], rows[1::2], out=found[:pairs])
    return found
