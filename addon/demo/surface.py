"""Patches of a part's skin: flat polygons, polygons with a round hole, and round walls, in mm with z up.

Neighbouring patches share their corner points exactly, so that a part made of them closes without gaps.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

SEGMENTS = 24  # sides of every circle
TIE = 1e-9  # what is nearer than this is equal, whatever the last bits of a sine say

Point = tuple[float, float, float]
Flat = tuple[float, float]


class Mesh(NamedTuple):
    """Triangles of one part with its corners split where the skin has a sharp edge."""

    positions: np.ndarray  # (V, 3) mm
    normals: np.ndarray  # (V, 3) unit length, outward
    triangles: np.ndarray  # (T, 3) rows of `positions`, counter-clockwise seen from outside


@dataclass
class Skin:
    """A growing closed surface; every patch is given with the direction that leads out of the solid."""

    corners: list[np.ndarray] = field(default_factory=list)
    normals: list[np.ndarray] = field(default_factory=list)

    def face(self, points: list[Point], outward: Point) -> None:
        """A convex polygon; the first point must not lie on a straight line with two others that follow each other."""
        p = np.asarray(points, float)
        fan = np.stack([np.broadcast_to(p[0], p[1:-1].shape), p[1:-1], p[2:]], axis=1)
        self._flat(fan, outward)

    def between(self, first: list[Point], second: list[Point], outward: Point) -> None:
        """The flat region between two chains of points that run the same way."""
        a, b = np.asarray(first, float), np.asarray(second, float)
        self._zip(a, b, _lengths(a), _lengths(b), outward)

    def holed(self, points: list[Flat], z: float, centre: Flat, radius: float, up: bool) -> None:
        """A level convex polygon (counter-clockwise) with a round hole in it."""
        self._around(np.asarray([(*p, z) for p in points], float), circle(centre, radius, z), centre, up)

    def ring(self, centre: Flat, inner: float, outer: float, z: float, up: bool) -> None:
        """A level ring."""
        self._around(circle(centre, outer, z), circle(centre, inner, z), centre, up)

    def disc(self, centre: Flat, radius: float, z: float, up: bool) -> None:
        """A level disc."""
        self.face(list(circle(centre, radius, z)), (0, 0, 1 if up else -1))

    def round_wall(
        self, centre: Flat, low: tuple[float, float], high: tuple[float, float], outside: bool = True
    ) -> None:
        """A cylinder or cone between two (radius, z), shaded smooth; `outside` tells on which side the air is."""
        bottom, top = circle(centre, *low), circle(centre, *high)
        slant = np.array([high[1] - low[1], low[0] - high[0]]) / np.hypot(high[1] - low[1], low[0] - high[0])
        radial = (circle((0, 0), 1.0, 0.0) * slant[0] + np.array([0, 0, slant[1]])) * (1 if outside else -1)
        here = np.arange(SEGMENTS)
        after = np.roll(here, -1)
        quads = _halves(bottom[here], bottom[after], top[after], top[here])
        shading = _halves(radial[here], radial[after], radial[after], radial[here])
        if not outside:
            quads, shading = quads[:, ::-1], shading[:, ::-1]
        self.corners.append(quads)
        self.normals.append(shading)

    def mesh(self) -> Mesh:
        """Everything laid so far, corners with the same place and normal shared."""
        corners = np.concatenate(self.corners).reshape(-1, 3)
        normals = np.concatenate(self.normals).reshape(-1, 3)
        rows = np.round(np.hstack([corners, normals]), 6) + 0.0
        _, first, which = np.unique(rows, axis=0, return_index=True, return_inverse=True)
        return Mesh(rows[first, :3], rows[first, 3:], which.reshape(-1, 3))

    def _around(self, outer: np.ndarray, rim: np.ndarray, centre: Flat, up: bool) -> None:
        spokes = np.arctan2(outer[:, 1] - centre[1], outer[:, 0] - centre[0]) % (2 * np.pi)
        outer = np.roll(outer, -np.argmin(spokes), axis=0)
        spokes = np.append(np.sort(spokes), spokes.min() + 2 * np.pi)
        first = round(spokes[0] / (2 * np.pi) * SEGMENTS)
        rim = np.roll(rim, -first, axis=0)
        ticks = 2 * np.pi * (first + np.arange(SEGMENTS + 1)) / SEGMENTS
        self._zip(np.vstack([outer, outer[:1]]), np.vstack([rim, rim[:1]]), spokes, ticks, (0, 0, 1 if up else -1))

    def _zip(self, a: np.ndarray, b: np.ndarray, a_at: np.ndarray, b_at: np.ndarray, outward: Point) -> None:
        """Triangles between two chains, stepping along the one whose next middle comes first."""
        triangles, i, j = [], 0, 0
        while i < len(a) - 1 or j < len(b) - 1:
            if j == len(b) - 1 or (i < len(a) - 1 and a_at[i] + a_at[i + 1] < b_at[j] + b_at[j + 1] - TIE):
                triangles.append((a[i], a[i + 1], b[j]))
                i += 1
            else:
                triangles.append((a[i], b[j + 1], b[j]))
                j += 1
        self._flat(np.asarray(triangles), outward)

    def _flat(self, triangles: np.ndarray, outward: Point) -> None:
        cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        backward = cross @ np.asarray(outward, float) < 0
        triangles[backward] = triangles[backward][:, ::-1]
        normal = cross[np.argmax((cross**2).sum(axis=1))]
        normal = normal / np.linalg.norm(normal)
        normal *= np.sign(normal @ np.asarray(outward, float))
        self.corners.append(triangles)
        self.normals.append(np.broadcast_to(normal, triangles.shape))


def _halves(a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray) -> np.ndarray:
    """(2N, 3, 3) triangles of N quads."""
    return np.stack([a, b, c, a, c, d], axis=1).reshape(-1, 3, 3)


def _lengths(chain: np.ndarray) -> np.ndarray:
    """(N,) share of the chain's whole length at each of its points."""
    run = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(chain, axis=0), axis=1)))
    return run / run[-1]


def circle(centre: Flat, radius: float, z: float) -> np.ndarray:
    """(SEGMENTS, 3) points, counter-clockwise from above."""
    turn = 2 * np.pi * np.arange(SEGMENTS) / SEGMENTS
    flat = np.asarray(centre, float) + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return np.hstack([flat, np.full((SEGMENTS, 1), float(z))])
