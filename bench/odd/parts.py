"""Odd parts, known by construction: a body is a union of convex pieces, and its mesh is what an export would hold.

The pieces fill the hollow below, as a brick that stands on another does; studs belong to the mesh alone. The mesh is
made of the pieces by manifold3d: outside, studs, hollow, tubes. Sizes: common practice of the trade, no published
source. A part's origin is the middle of its seat, z is up, mm.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache

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


@cache
def odd(name: str, style: Style) -> Odd:
    kind, *numbers = name.split("-")
    return _KINDS[kind](style, *map(int, numbers)).made()


@dataclass
class _Mould:
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

    def piece(self, corners, meshed: bool = True) -> "_Mould":
        """A convex piece of the body; the mesh is made of it too, unless other solids stand for it there."""
        self.pieces.append(np.asarray(corners, dtype=float))
        if meshed:
            self.outside.append(self.pieces[-1])
        return self

    def stud(self, places: Iterable, way=Z) -> "_Mould":
        self.studs += [(np.asarray(place, dtype=float), way) for place in places]
        return self

    def hollow(self, low, high) -> "_Mould":
        """A shallow room for studs in the seat."""
        if self.style.hollow:
            self.hollows.append(_hull(box(low, high)))
        return self

    def underside(self, nx: int, ny: int, height: float) -> "_Mould":
        """Rim, hollow, and tubes or rods between the studs that it takes."""
        if not self.style.hollow:
            return self
        half, top = np.array([nx, ny]) * PITCH / 2 - self.c - WALL, height - ROOF
        self.hollow((*-half, -1.0), (*half, top))
        if max(nx, ny) == 1:
            return self
        for x, y in grid(max(nx - 1, 1), max(ny - 1, 1)):
            if min(nx, ny) == 1:
                self.inside.append(_rod((x, y), ROD_RADIUS, 0, top + 0.5, self.style.facets))
            else:
                tube = _rod((x, y), TUBE_RADIUS, 0, top + 0.5, self.style.facets)
                self.inside.append(tube - _rod((x, y), STUD_RADIUS, -1, top, self.style.facets))
        return self

    def made(self) -> Odd:
        solid = _together(map(_hull, self.outside))
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
        return _hull(np.concatenate(ends))


def frame(way) -> tuple[np.ndarray, np.ndarray]:
    """Two directions across a third."""
    u = X if abs(way[0]) < 0.9 else Y
    v = np.cross(way, u)
    return u, v / np.linalg.norm(v)


def _hull(corners) -> Solid:
    return Solid.hull_points(np.asarray(corners, dtype=float))


def _together(solids: Iterable[Solid]) -> Solid:
    return Solid.batch_boolean(list(solids), manifold3d.OpType.Add)


def _rod(at, radius, low, high, facets) -> Solid:
    return _hull(column(circle(radius, facets) + at, low, high))


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


def ring(inner: float, outer: float, facets: int, start: float = 0.0, turn: float = 2 * np.pi):
    """Convex segments (4, 2) of a ring whose inner faces are tangent to the circle of radius `inner`."""
    angle = start + np.linspace(0, turn, facets + 1)
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    inner = inner / np.cos(0.5 * turn / facets)
    for a, b in zip(way, way[1:], strict=False):
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


# Upright ones.


def _moulded(style, nx, ny, height, studs=None):
    mould, half = _Mould(style), np.array([nx, ny]) * PITCH / 2 - style.clearance
    mould.piece(box((*-half, 0), (*half, height))).underside(nx, ny, height)
    return mould.stud(on_top(nx, ny, height) if studs is None else studs)


def _brick(style, nx, ny):
    return _moulded(style, nx, ny, BRICK)


def _plate(style, nx, ny):
    return _moulded(style, nx, ny, PLATE)


def _tile(style, nx, ny):
    return _moulded(style, nx, ny, PLATE, ())


def _jumper(style, ny):
    """Two studs wide, with one stud in its middle."""
    return _moulded(style, 2, ny, PLATE, [(0, 0, PLATE)])


def _corner(style):
    """An angle of three studs; the one at +x, +y is missing."""
    c, mould = style.clearance, _Mould(style)
    mould.piece(box((-8 + c, -8 + c, 0), (8 - c, -c, PLATE))).piece(box((-8 + c, -8 + c, 0), (-c, 8 - c, PLATE)))
    for x, y in ((-4, -4), (4, -4), (-4, 4)):
        mould.hollow((x - 2.45, y - 2.45, -1), (x + 2.45, y + 2.45, 2.0))
    return mould.stud([(-4, -4, PLATE), (4, -4, PLATE), (-4, 4, PLATE)])


# Slopes: the low side at -y, drawn along x.

_SLOPES = {45: (2, BRICK), 33: (3, BRICK), 25: (3, BRICK), 65: (2, 2 * BRICK)}  # degrees: studs deep, mm high


def _fall(angle: int) -> tuple[int, float, float, float]:
    """Studs deep, height, how far a slope runs and how high its low side is."""
    depth, height = _SLOPES[angle]
    tangent = np.tan(np.radians(angle))
    run = min((height - LIP) / tangent, (depth - 1) * PITCH)
    return depth, height, run, height - run * tangent


def _slope(style, angle, nx):
    c, (depth, height, run, lip) = style.clearance, _fall(angle)
    front, back, half = -depth * 4 + c, depth * 4 - c, nx * 4 - c
    mould = _Mould(style).piece(
        drawn([(front, 0), (back, 0), (back, height), (front + run, height), (front, lip)], half)
    )
    mould.hollow((-half + WALL, front + 3.0, -1), (half - WALL, back - WALL, min(1.8, lip)))
    return mould.stud([(x, depth * 4 - 4, height) for x, _ in grid(nx, 1)])


def _inverse(style, angle, nx):
    """A slope on its head: its seat is one row, its studs are on all of them."""
    c, (depth, height, run, lip) = style.clearance, _fall(angle)
    front, back, half = -depth * 4 + c, depth * 4 - c, nx * 4 - c
    mould = _Mould(style).piece(
        drawn([(front, height), (back, height), (back, 0), (front + run, 0), (front, height - lip)], half)
    )
    mould.hollow((-half + WALL, back - 8 + c + WALL, -1), (half - WALL, back - WALL, 1.8))
    return mould.stud(on_top(nx, depth, height))


def _ridge(style, nx):
    """The top of a roof: it falls to both sides and has no studs."""
    c, half = style.clearance, nx * 4 - style.clearance
    mould = _Mould(style).piece(drawn([(-8 + c, 0), (8 - c, 0), (8 - c, LIP), (0, LIP + 8 - c), (-8 + c, LIP)], half))
    return mould.hollow((-half + WALL, -5, -1), (half - WALL, 5, 1.8))


def _hip(style):
    """The corner of a roof: it falls to -x and to -y."""
    c = style.clearance
    e = 8 - c
    foot, lip, top = (box((-e, -e, z), (e, e, z)) for z in (0, LIP, 0))
    top = box((-c, -c, BRICK), (e, e, BRICK))
    mould = _Mould(style).piece(np.concatenate([foot, lip, top])).hollow((-5, -5, -1), (e - WALL, e - WALL, 1.5))
    return mould.stud([(4, 4, BRICK)])


def _valley(style):
    """The inner corner of a roof: low at -x and -y, high along +x and +y."""
    c = style.clearance
    e = 8 - c
    profile = [(-e, 0), (e, 0), (e, BRICK), (-c, BRICK), (-e, LIP)]
    along_x = drawn(profile, e)
    mould = _Mould(style).piece(along_x).piece(along_x[:, [1, 0, 2]])
    mould.hollow((-5, -5, -1), (e - WALL, e - WALL, 1.5))
    return mould.stud([(4, 4, BRICK), (-4, 4, BRICK), (4, -4, BRICK)])


# Wedges in plan.


def _planned(style, outline, height, studs, hollows=()):
    mould = _Mould(style).piece(column(outline, 0, height))
    for x, y in hollows:
        mould.hollow((x - 2.45, y - 2.45, -1), (x + 2.45, y + 2.45, 2.0))
    return mould.stud([(x, y, height) for x, y in studs])


def _wing(style, length, left):
    """A plate two studs deep at -x, one at +x, its slant at +y; left ones are their mirror image."""
    c, h = style.clearance, length * 4
    outline = np.array([(-h + c, -8 + c), (h - c, -8 + c), (h - c, -c), (-h + c, 8 - c)])
    row = [(x, -4.0) for x, _ in grid(length, 1)]
    studs = np.array([*row, (-h + 4, 4.0)] if length > 3 else row)
    flip = (-1 if left else 1, 1)
    return _planned(style, outline * flip, PLATE, studs * flip, studs * flip)


def _delta(style, n):
    """A plate with a right angle at -x, -y and a slant across."""
    c, h = style.clearance, n * 4
    outline = [(-h + c, -h + c), (h - c, -h + c), (h - c, -h + 4), (-h + 4, h - c), (-h + c, h - c)]
    inside = [(x, y) for x, y in grid(n, n) if x + y < 0.5]
    return _planned(style, outline, PLATE, inside, inside)


def _wedge(style, n):
    """A brick whose plan is an arrow: two studs wide behind, one in front."""
    c, h = style.clearance, n * 4
    outline = [(-8 + c, -h + c), (8 - c, -h + c), (8 - c, -h + 8), (4 - c, h - c), (-4 + c, h - c), (-8 + c, -h + 8)]
    studs = [(-4, -h + 4), (4, -h + 4), *((0, -h + 8 * k) for k in range(2, n))]
    return _planned(style, outline, BRICK, studs, studs[:2])


# Round ones.


def _round(style, height, top=None):
    """One stud wide on a foot that goes between four studs."""
    c, facets = style.clearance, style.facets
    mould, high = _Mould(style), height * PLATE
    mould.piece(column(circle(TUBE_RADIUS, facets), 0, FOOT))
    outer = circle(4 - c, facets)
    if top is None:
        mould.piece(column(outer, FOOT, high))
    else:
        mould.piece(np.concatenate([column(outer, FOOT, 3.2), column(circle(top, facets), high, high)]))
    if style.hollow:
        mould.hollows.append(_rod((0, 0), STUD_RADIUS, -1, 1.8, facets))
    return mould.stud([(0, 0, high)])


def _cone(style):
    return _round(style, 3, 2.9)


def _disc(style, n, height=1):
    """Round, n studs wide, with a stud on each place that it has room for."""
    c, facets, high = style.clearance, max(style.facets, 12), height * PLATE
    room = n * 4 - c - STUD_RADIUS - 0.3
    studs = [(x, y) for x, y in (grid(n, n) if n > 2 else [(0, 0)]) if np.hypot(x, y) <= room]
    outline = circle(n * 4 - c, facets)
    mould = _Mould(style).piece(column(outline, 0, high)).stud([(x, y, high) for x, y in studs])
    if style.hollow:
        mould.hollows.append(
            _hull(column(circle((n * 4 - c) * np.cos(np.pi / facets) - WALL, facets), -1, high - ROOF))
        )
    return mould


def _steeple(style):
    """A cone two studs wide and two bricks high."""
    c, facets = style.clearance, style.facets
    corners = [column(circle(8 - c, facets), 0, FOOT), column(circle(4 - c, facets), 2 * BRICK, 2 * BRICK)]
    mould = _Mould(style).piece(np.concatenate(corners)).stud([(0, 0, 2 * BRICK)])
    if style.hollow:
        mould.hollows.append(_rod((0, 0), 5.0, -1, 1.8, facets))
    return mould


def _quarter(style, n):
    """A quarter of a disc: round about its corner at -x, -y."""
    c, h = style.clearance, n * 4
    angle = np.linspace(0, np.pi / 2, max(style.facets // 4, 3) + 1)
    arc = -h + c + (2 * h - 2 * c) * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    room = 2 * h - 3.0
    studs = [(x, y) for x, y in grid(n, n) if np.hypot(x + h, y + h) < room]
    return _planned(style, [(-h + c, -h + c), *arc], PLATE, studs, studs)


def _bend(style):
    """A quarter of a ring, two studs wide, one deep, about its corner at -x, -y."""
    c, facets = style.clearance, max(style.facets // 4, 3)
    mould = _Mould(style)
    step = c / 12  # keeps its ends off the next one's
    for quad in ring(8 + c, 16 - c, facets, step, np.pi / 2 - 2 * step):
        mould.piece(column(quad - 8, 0, BRICK))
    at = 12 / np.sqrt(2) - 8
    return mould.stud([(at, at, BRICK)])


# Openings.


def _gate(style, nx):
    """A square arch: two legs and what they carry; along x."""
    c, h, half = style.clearance, nx * 4 - style.clearance, 4 - style.clearance
    mould = _Mould(style).piece(box((-h, -half, BRICK - PLATE), (h, half, BRICK)))
    for sign in (-1, 1):
        inner = sign * (nx * 4 - 8 + c)
        mould.piece(box((min(sign * h, inner), -half, 0), (max(sign * h, inner), half, BRICK)))
        mould.hollow((sign * (nx * 4 - 4) - 2.45, -2.45, -1), (sign * (nx * 4 - 4) + 2.45, 2.45, 2.0))
    return mould.stud(on_top(nx, 1, BRICK))


def _bow(style, nx):
    """A round arch over all but its two outer studs; along x."""
    c, h, half = style.clearance, nx * 4 - style.clearance, 4 - style.clearance
    mould, inner = _Mould(style), nx * 4 - 8 + c
    angle = np.linspace(0, np.pi, max(style.facets // 2, 4) + 1)
    bow = np.stack([-inner * np.cos(angle), 6.5 * np.sin(angle)], axis=1)
    bow[:, 1] = np.maximum(bow[:, 1], 0.0)
    for (x0, z0), (x1, z1) in zip(bow, bow[1:], strict=False):
        mould.piece(drawn([(x0, z0), (x1, z1), (x1, BRICK), (x0, BRICK)], half)[:, [1, 0, 2]])
    for sign in (-1, 1):
        mould.piece(box((min(sign * h, sign * inner), -half, 0), (max(sign * h, sign * inner), half, BRICK)))
        mould.hollow((sign * (nx * 4 - 4) - 2.45, -2.45, -1), (sign * (nx * 4 - 4) + 2.45, 2.45, 2.0))
    return mould.stud(on_top(nx, 1, BRICK))


def _panel(style, nx):
    """A thin wall on a plate one stud deep; the wall at +y."""
    c, h, half = style.clearance, nx * 4 - style.clearance, 4 - style.clearance
    mould = _Mould(style).piece(box((-h, -half, 0), (h, half, PLATE)))
    mould.piece(box((-h, half - FLANGE, 0), (h, half, 2 * BRICK)))
    return mould.hollow((-h + WALL, -half + WALL, -1), (h - WALL, half - WALL, 2.0))


# Studs to the side.


def _bracket(style, nx):
    """A plate one stud deep with a flange that hangs off its front, studs up and to -y."""
    c = style.clearance
    h, front, back = nx * 4 - c, -4 - FLANGE, 4 - c
    mould = _Mould(style).piece(box((-h, front, 0), (h, back, PLATE)))
    mould.piece(box((-h, front, PLATE - 8 + c), (h, -4, PLATE)))
    mould.hollow((-h + WALL, -2.5, -1), (h - WALL, 2.5, 2.0)).stud(on_top(nx, 1, PLATE))
    return mould.stud([(x, front, PLATE - 4) for x, _ in grid(nx, 1)], -Y)


def _riser(style, nx):
    """The same with its flange standing up."""
    c = style.clearance
    h, front, back = nx * 4 - c, -4 - FLANGE, 4 - c
    mould = _Mould(style).piece(box((-h, front, 0), (h, back, PLATE)))
    mould.piece(box((-h, front, 0), (h, -4, 8 - c)))
    mould.hollow((-h + WALL, -2.5, -1), (h - WALL, 2.5, 2.0)).stud(on_top(nx, 1, PLATE))
    return mould.stud([(x, front, 4) for x, _ in grid(nx, 1)], -Y)


def _side(style, sides, nx):
    """A brick one stud deep with studs on 1, 2 opposite or 4 of its sides."""
    mould = _moulded(style, nx, 1, BRICK)
    h, half = nx * 4 - style.clearance, 4 - style.clearance
    mould.stud([(x, -half, 4.0) for x, _ in grid(nx, 1)], -Y)
    if sides > 1:
        mould.stud([(x, half, 4.0) for x, _ in grid(nx, 1)], Y)
    if sides > 2:
        mould.stud([(-h, 0, 4.0)], -X).stud([(h, 0, 4.0)], X)
    return mould


# Hinges, bars, balls, pins.


def _hinge(style, nx, odd_ones):
    """Half a hinge: a plate whose fingers lie around an axis along x at y = 0, z = 1.6; the plate lies at +y."""
    c, h, n = style.clearance, nx * 4, 2 * nx + 1
    radius, start = PLATE / 2, 2.0
    mould = _Mould(style).piece(box((-h + c, start, 0), (h - c, start + 8 - c, PLATE)))
    knuckle = circle(radius, style.facets) + (0, radius)
    profile = np.concatenate([knuckle, [(start + 1, 0), (start + 1, PLATE)]])
    for i in range(odd_ones, n, 2):
        x0, x1 = -h + 2 * h * i / n + c, -h + 2 * h * (i + 1) / n - c
        corners = drawn(profile, 0.5 * (x1 - x0)) + (0.5 * (x0 + x1), 0, 0)
        mould.piece(corners)
    return mould.stud([(x, start + 4, PLATE) for x, _ in grid(nx, 1)])


def _bar(style, length):
    """A rod along z, its origin in its middle."""
    half = length * 4
    return _Mould(style).piece(column(circle(BAR_RADIUS, style.facets), -half, half))


CLIP_AT = np.array([0, -6.6, 1.6])


def _clip(style):
    """A plate of one stud with a clip at its front that opens to -y; a bar along x goes through it."""
    mould, c = _moulded(style, 1, 1, PLATE), style.clearance
    for quad in ring(BAR_RADIUS + c / 2, 2.6, max(style.facets // 2, 6), -np.pi / 4, 1.5 * np.pi):
        mould.piece(drawn(quad + CLIP_AT[1:], 1.5))
    return mould.piece(box((-1.5, -4.9, 0.6), (1.5, -3.0, 2.6)))


BALL_AT = np.array([0, -10.0, 1.6])


def _ball(style):
    """A plate of one stud with a ball on a neck."""
    mould, facets = _moulded(style, 1, 1, PLATE), max(style.facets // 2, 8)
    polar = np.linspace(0, np.pi, facets // 2 + 1)[1:-1]
    rings = [np.c_[circle(BALL_RADIUS * np.sin(t), facets), np.full(facets, BALL_RADIUS * np.cos(t))] for t in polar]
    sphere = np.concatenate([*rings, [(0, 0, BALL_RADIUS), (0, 0, -BALL_RADIUS)]])
    mould.piece(sphere + BALL_AT)
    neck = circle(1.2, facets)
    return mould.piece(np.concatenate([np.c_[neck[:, 0], np.full(facets, y), neck[:, 1] + 1.6] for y in (-9, -3)]))


def _socket(style):
    """A plate of one stud with a cup at its front, open to -y, for a ball whose neck comes from there."""
    mould = _moulded(style, 1, 1, PLATE)
    inner, outer, cells = BALL_RADIUS + style.clearance / 2, 3.6, 8
    polar, turn = np.radians([0.01, 35, 70, 105]), np.linspace(0, 2 * np.pi, cells + 1)
    inner /= np.cos(np.radians(17.5)) * np.cos(np.pi / cells)
    for t0, t1 in zip(polar, polar[1:], strict=False):
        for a0, a1 in zip(turn, turn[1:], strict=False):
            way = np.array(
                [(np.sin(t) * np.cos(a), np.cos(t), np.sin(t) * np.sin(a)) for t in (t0, t1) for a in (a0, a1)]
            )
            mould.piece(np.concatenate([inner * way, (outer + 0.6) * way]) + SOCKET_AT)
    return mould.piece(box((-1.2, -5.6, 0.4), (1.2, -3.0, 2.8)))


SOCKET_AT = np.array([0, -8.9, 1.6])


HOLE_AT = 5.8


def _bored(mould, x, z, half_x, half_z, half_y):
    facets = min(mould.style.facets, 16)
    for quad in around(half_x, half_z, HOLE_RADIUS, facets):
        mould.piece(drawn(quad + (x, z), half_y)[:, [1, 0, 2]], meshed=False)
    hole = circle(HOLE_RADIUS / np.cos(np.pi / facets), facets) + (x, z)
    mould.hollows.append(_hull(drawn(hole, half_y + 1)[:, [1, 0, 2]]))


def _holed(style, nx):
    """A brick one stud deep with pin holes along y between its studs."""
    c, h, half = style.clearance, nx * 4 - style.clearance, 4 - style.clearance
    mould, sill = _Mould(style), 2 * HOLE_AT - BRICK
    mould.outside.append(box((-h, -half, 0), (h, half, BRICK)))
    mould.piece(box((-h, -half, 0), (h, half, sill)), meshed=False)
    for sign in (-1, 1):
        inner = sign * (nx * 4 - 4)
        mould.piece(box((min(sign * h, inner), -half, 0), (max(sign * h, inner), half, BRICK)), meshed=False)
    for x, _ in grid(nx - 1, 1):
        _bored(mould, x, HOLE_AT, 4, BRICK - HOLE_AT, half)
    for x, _ in grid(nx, 1):
        mould.hollow((x - 2.45, -2.45, -1), (x + 2.45, 2.45, 1.75))
    return mould.stud(on_top(nx, 1, BRICK))


def _beam(style, nx):
    """A beam without studs, a pin hole along y at each pitch; its origin on their line."""
    c, mould = style.clearance, _Mould(style)
    half, end = 4 - c, nx * 4 - c
    mould.outside.append(box((-end, -half, -half), (end, half, half)))
    for n, (x, _) in enumerate(grid(nx, 1)):
        _bored(mould, x, 0, 4 - c, half, half)
        if n and c:
            mould.piece(box((x - 4 - c, -half, -half), (x - 4 + c, half, half)), meshed=False)
    return mould


def _pin(style):
    """A pin along y through two holes, its ends chamfered."""
    ends, radius = 7.8, PIN_RADIUS + (0.05 if style.clearance == 0 else 0.0)
    rings = [(circle(radius - 0.3, style.facets), ends), (circle(radius, style.facets), ends - 0.6)]
    corners = [np.c_[r[:, 0], np.full(len(r), s * y), r[:, 1]] for r, y in rings for s in (-1, 1)]
    return _Mould(style).piece(np.concatenate(corners))


_KINDS: dict[str, Callable[..., _Mould]] = {
    "brick": _brick, "plate": _plate, "tile": _tile, "jumper": _jumper, "corner": _corner,
    "slope": _slope, "inverse": _inverse, "ridge": _ridge, "hip": _hip, "valley": _valley,
    "wing": _wing, "delta": _delta, "wedge": _wedge,
    "round": _round, "cone": _cone, "disc": _disc, "steeple": _steeple, "quarter": _quarter, "bend": _bend,
    "gate": _gate, "bow": _bow, "panel": _panel,
    "bracket": _bracket, "riser": _riser, "side": _side,
    "hinge": _hinge, "bar": _bar, "clip": _clip, "ball": _ball, "socket": _socket,
    "holed": _holed, "beam": _beam, "pin": _pin,
}  # fmt: skip
EXAMPLES = (
    "brick-2-4", "plate-1-1", "tile-2-1", "jumper-1", "jumper-2", "corner", "slope-45-2", "slope-33-2", "slope-25-1",
    "slope-65-1", "inverse-45-2", "inverse-33-1", "inverse-25-2", "inverse-65-1", "ridge-2", "hip", "valley",
    "wing-3-0", "wing-4-1", "wing-6-0", "delta-3", "delta-4", "wedge-3", "wedge-4", "round-3", "round-1", "cone",
    "disc-2", "disc-2-3", "disc-3", "disc-4", "steeple", "quarter-2", "quarter-3", "bend", "gate-3", "gate-4", "bow-4",
    "bow-6", "panel-2", "bracket-1", "bracket-2", "riser-2", "side-1-1", "side-1-2", "side-2-1", "side-4-1",
    "hinge-1-0", "hinge-1-1", "hinge-2-0", "bar-3", "clip", "ball", "socket", "holed-3", "beam-3", "pin",
)  # fmt: skip
