"""Odd parts, known by construction: a body is a union of convex pieces, and its mesh is what an export would hold.

The pieces fill the hollow below, as a brick that stands on another does; studs belong to the mesh alone. The mesh is
made of the pieces by manifold3d: outside, studs, hollow, tubes. Sizes: common practice of the trade, no published
source. A part's origin is the middle of its seat, z is up, mm.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import manifold3d
import numpy as np

PITCH, PLATE, BRICK = 8.0, 3.2, 9.6
STUD_RADIUS, STUD_HEIGHT = 2.4, 1.7
WALL, ROOF, TUBE_RADIUS, ROD_RADIUS = 1.5, 1.2, 3.255, 1.6
FLANGE, LIP, FOOT = 1.6, 1.6, 1.6
BAR_RADIUS, PIN_RADIUS, HOLE_RADIUS, BALL_RADIUS = 1.6, 2.35, 2.4, 2.5
X, Y, Z = np.eye(3)
_CRUMB_MM3 = 1e-3  # left over where pieces that share a face differ by what a double rounds off

Solid = manifold3d.Manifold


@dataclass(frozen=True)
class Style:
    """How a program models: the gap per side in mm, facets of a circle, hollow below or not."""

    clearance: float = 0.0
    facets: int = 16
    hollow: bool = True


@dataclass(frozen=True)
class Odd:
    """A part: its true body and what an export holds of it."""

    pieces: tuple[np.ndarray, ...]  # corners (n, 3) of each convex piece
    studs: np.ndarray  # (S, 3) where they leave the body
    ways: np.ndarray  # (S, 3) where they point
    vertices: np.ndarray  # (V, 3)
    triangles: np.ndarray  # (T, 3)


@dataclass
class Mould:
    """A part in the making."""

    style: Style
    pieces: list[np.ndarray] = field(default_factory=list)
    outside: list[np.ndarray] = field(default_factory=list)  # corners of what the mesh is made of
    studs: list[tuple[np.ndarray, np.ndarray]] = field(default_factory=list)
    hollows: list[Solid] = field(default_factory=list)
    inside: list[Solid] = field(default_factory=list)

    @property
    def c(self) -> float:
        return self.style.clearance

    def piece(self, corners, meshed: bool = True) -> "Mould":
        """A convex piece of the body; the mesh is made of it too, unless other solids stand for it there."""
        self.pieces.append(np.asarray(corners, dtype=float))
        if meshed:
            self.outside.append(self.pieces[-1])
        return self

    def stud(self, places: Iterable, way=Z) -> "Mould":
        self.studs += [(np.asarray(place, dtype=float), way) for place in places]
        return self

    def hollow(self, low, high) -> "Mould":
        """A shallow room for studs in the seat."""
        if self.style.hollow:
            self.hollows.append(hull(box(low, high)))
        return self

    def underside(self, nx: int, ny: int, height: float) -> "Mould":
        """Rim, hollow, and tubes or rods between the studs that it takes."""
        if not self.style.hollow:
            return self
        half, top = np.array([nx, ny]) * PITCH / 2 - self.c - WALL, height - ROOF
        self.hollow((*-half, -1.0), (*half, top))
        if max(nx, ny) == 1:
            return self
        for x, y in grid(max(nx - 1, 1), max(ny - 1, 1)):
            if min(nx, ny) == 1:
                self.inside.append(rod((x, y), ROD_RADIUS, 0, top + 0.5, self.style.facets))
            else:
                tube = rod((x, y), TUBE_RADIUS, 0, top + 0.5, self.style.facets)
                self.inside.append(tube - rod((x, y), STUD_RADIUS, -1, top, self.style.facets))
        return self

    def made(self) -> Odd:
        solid = _together(map(hull, self.outside))
        if self.hollows:
            solid -= _together(self.hollows)
        solid = _together([solid, *self.inside, *(self._stud(*stud) for stud in self.studs)])
        solid = _together(each for each in solid.decompose() if each.volume() > _CRUMB_MM3)
        mesh = solid.to_mesh64()
        places, ways = (np.array([each[n] for each in self.studs], dtype=float).reshape(-1, 3) for n in (0, 1))
        vertices, triangles = np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts, dtype=np.int64)
        return Odd(tuple(self.pieces), places, ways, vertices.astype(float), triangles)

    def _stud(self, place, way) -> Solid:
        u, v = frame(way)
        ring = circle(STUD_RADIUS, self.style.facets)
        ends = [place + ring @ np.stack([u, v]) + along * way for along in (-0.5, STUD_HEIGHT)]
        return hull(np.concatenate(ends))


def frame(way) -> tuple[np.ndarray, np.ndarray]:
    """Two directions across a third."""
    u = X if abs(way[0]) < 0.9 else Y
    v = np.cross(way, u)
    return u, v / np.linalg.norm(v)


def hull(corners) -> Solid:
    return Solid.hull_points(np.asarray(corners, dtype=float))


def _together(solids: Iterable[Solid]) -> Solid:
    return Solid.batch_boolean(list(solids), manifold3d.OpType.Add)


def rod(at, radius, low, high, facets) -> Solid:
    return hull(column(circle(radius, facets) + at, low, high))


def grid(nx: int, ny: int) -> list[tuple[float, float]]:
    return [((i - (nx - 1) / 2) * PITCH, (j - (ny - 1) / 2) * PITCH) for i in range(nx) for j in range(ny)]


def on_top(nx: int, ny: int, height: float) -> list[tuple[float, float, float]]:
    return [(x, y, height) for x, y in grid(nx, ny)]


def box(low, high) -> np.ndarray:
    return np.stack(np.meshgrid(*zip(low, high, strict=True), indexing="ij"), axis=-1).reshape(-1, 3)


def circle(radius: float, facets: int, start: float = 0.0) -> np.ndarray:
    angle = start + np.arange(facets) * 2 * np.pi / facets
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def column(outline, low: float, high: float) -> np.ndarray:
    """An outline (n, 2) in x and y, upright."""
    outline = np.asarray(outline, dtype=float)
    return np.concatenate([np.c_[outline, np.full(len(outline), z)] for z in (low, high)])


def drawn(profile, half: float) -> np.ndarray:
    """A profile (n, 2) in y and z, drawn along x."""
    profile = np.asarray(profile, dtype=float)
    return np.concatenate([np.c_[np.full(len(profile), x), profile] for x in (-half, half)])


def moved(points, *by: float) -> np.ndarray:
    return points + np.array(by)


def ring(inner: float, outer: float, facets: int, start: float = 0.0, turn: float = 2 * np.pi):
    """Convex segments (4, 2) of a ring whose inner faces are tangent to the circle of radius `inner`."""
    angle = start + np.linspace(0, turn, facets + 1)
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    inner = inner / np.cos(0.5 * turn / facets)
    for a, b in pairwise(way):
        yield np.array([inner * a, inner * b, outer * b, outer * a])


def around(half_x: float, half_y: float, radius: float, facets: int):
    """Convex segments (n, 2) of a rectangle around a round hole in its middle."""
    angle = np.unique(np.round(np.r_[np.arange(facets) * 2 * np.pi / facets, _corner_angles(half_x, half_y)], 12))
    rim = radius / np.cos(np.pi / facets)

    def out(t):
        way = np.array([np.cos(t), np.sin(t)])
        with np.errstate(divide="ignore"):
            return way * np.min(np.array([half_x, half_y]) / np.abs(way))

    def within(t):
        """On the hole's polygon, at an angle that need not be one of its corners."""
        step = 2 * np.pi / facets
        return radius / np.cos((t % step) - step / 2) * np.array([np.cos(t), np.sin(t)])

    assert rim < min(half_x, half_y)
    for a, b in zip(angle, np.r_[angle[1:], angle[0] + 2 * np.pi], strict=True):
        yield np.array([within(a), within(b), out(b), out(a)])


def _corner_angles(half_x: float, half_y: float) -> np.ndarray:
    return np.array([np.arctan2(y, x) % (2 * np.pi) for x in (half_x, -half_x) for y in (half_y, -half_y)])


def moulded(style, nx, ny, height, studs=None):
    mould, half = Mould(style), np.array([nx, ny]) * PITCH / 2 - style.clearance
    mould.piece(box((*-half, 0), (*half, height))).underside(nx, ny, height)
    return mould.stud(on_top(nx, ny, height) if studs is None else studs)
