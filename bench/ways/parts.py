"""Parts of a stranger's catalogue, each as the shells it is moulded of: a body, its studs, its tubes, its print.

Sizes: common practice of the trade, no published source. A part's origin is the middle of its seat.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from .solids import circle, face, level, prism, rectangle, rim, set_on, turned, wall

PITCH, PLATE, BRICK = 8.0, 3.2, 9.6
STUD_RADIUS, STUD_HEIGHT = 2.4, 1.7
WALL, TUBE_RADIUS, ROD_RADIUS, ROOF = 1.5, 3.255, 1.6, 1.2
GROUND = 1.6  # height of a plate to build on
X, Y, Z = np.eye(3)


@dataclass(frozen=True)
class Style:
    """How a program models: the gap per side in mm, hollow below or solid, studs fused or not, facets of a circle,
    and whether the faces on the ground and the studs are there."""

    clearance: float = 0.0
    hollow: bool = True
    fused: bool = True
    facets: int = 16
    grounded: bool = True
    studded: bool = True


@dataclass(frozen=True)
class Shell:
    role: str  # body, stud, tube or print
    vertices: np.ndarray  # (V, 3)
    triangles: np.ndarray  # (T, 3)
    uv: np.ndarray | None = None  # (V, 2)


@cache
def shells(name: str, style: Style) -> tuple[Shell, ...]:
    """The shells of a part; with fused studs and tubes it is one."""
    kind, *numbers = name.split("-")
    return tuple(_KINDS[kind](style, *map(int, numbers)))


@dataclass
class _Solid:
    """A part in the making: what belongs to the body, and what stands on it."""

    style: Style
    body: list[np.ndarray] = field(default_factory=list)
    others: list[tuple[str, np.ndarray]] = field(default_factory=list)

    def panel(self, outline, studs=(), at=0.0 * X, u=X, v=Y, holes=()):
        """A flat face of the body with studs on it."""
        facets = self.style.facets
        rings = [circle(x, y, STUD_RADIUS, facets) for x, y in studs if self.style.studded]
        fused = self.style.fused
        soups = [level(face(outline, [*holes, *(rings if fused else ())]), 0.0)]
        for ring in rings:
            if fused:
                soups += [wall(ring, 0, STUD_HEIGHT), level(face(ring), STUD_HEIGHT)]
            else:
                self.others.append(("stud", set_on(prism(ring, 0, STUD_HEIGHT), at, u, v)))
        self.body += [set_on(soup, at, u, v) for soup in soups]

    def below(self, outline, inner, ceiling, tubes=(), rods=()):
        """The underside: a rim, a hollow up to the ceiling, tubes and rods that hang from it."""
        if not self.style.hollow:
            self.body.append(level(face(outline), 0, up=False))
            return
        facets, fused = self.style.facets, self.style.fused
        outer = [circle(x, y, TUBE_RADIUS, facets) for x, y in tubes]
        bores = [circle(x, y, STUD_RADIUS, facets) for x, y in tubes]
        solid = [circle(x, y, ROD_RADIUS, facets) for x, y in rods]
        grounded = self.style.grounded
        self.body += [level(rim(outline, inner), 0, up=False)] * grounded + [wall(inner[::-1], 0, ceiling)]
        self.body.append(level(face(inner, [*outer, *solid] if fused else ()), ceiling, up=False))
        for ring, bore in zip(outer, bores, strict=True):
            if fused:
                self.body += [wall(ring, 0, ceiling), wall(bore[::-1], 0, ceiling)]
                self.body += [level(rim(ring, bore), 0, up=False)] * grounded + [level(face(bore), ceiling, up=False)]
            else:
                sides = [wall(ring, 0, ceiling), wall(bore[::-1], 0, ceiling)]
                ends = [level(rim(ring, bore), 0, up=False), level(rim(ring, bore), ceiling)]
                self.others.append(("tube", np.concatenate(sides + ends)))
        for ring in solid:
            if fused:
                self.body += [wall(ring, 0, ceiling)] + [level(face(ring), 0, up=False)] * grounded
            else:
                self.others.append(("tube", prism(ring, 0, ceiling)))

    def shells(self):
        yield merged("body", np.concatenate(self.body))
        for role, soup in self.others:
            yield merged(role, soup)


def merged(role: str, soup: np.ndarray) -> Shell:
    """A shell out of a soup: corners in one place are one vertex."""
    points, number = np.unique(np.rint(soup.reshape(-1, 3) * 1e6).astype(np.int64), axis=0, return_inverse=True)
    return Shell(role, points / 1e6, number.reshape(-1, 3))


def _outline(style, nx, ny):
    x, y = nx * PITCH / 2 - style.clearance, ny * PITCH / 2 - style.clearance
    return rectangle(-x, -y, x, y)


def _grid(nx, ny):
    return [((i - (nx - 1) / 2) * PITCH, (j - (ny - 1) / 2) * PITCH) for i in range(nx) for j in range(ny)]


def _moulded(style, nx, ny, height, studs):
    solid, outline = _Solid(style), _outline(style, nx, ny)
    inner = outline - np.sign(outline) * WALL
    thin = min(nx, ny) == 1
    between = _grid(max(nx - 1, 1), max(ny - 1, 1)) if max(nx, ny) > 1 else []
    solid.panel(outline, studs, at=height * Z)
    solid.body.append(wall(outline, 0, height))
    solid.below(outline, inner, height - ROOF, *(((), between) if thin else (between, ())))
    return solid.shells()


def _brick(style, nx, ny):
    return _moulded(style, nx, ny, BRICK, _grid(nx, ny))


def _plate(style, nx, ny):
    return _moulded(style, nx, ny, PLATE, _grid(nx, ny))


def _ground(style, nx, ny):
    """A thin plate to build on, flat below."""
    return _moulded(replace(style, hollow=False), nx, ny, GROUND, _grid(nx, ny))


def _tile(style, nx, ny):
    return _moulded(style, nx, ny, PLATE, ())


def _print(style, nx, ny):
    """A tile with a picture on it: on the face itself or, where a program keeps prints apart, on a sheet above it."""
    body, *others = _tile(style, nx, ny)
    if style.fused:
        yield Shell("body", body.vertices, body.triangles, _uv(body.vertices, nx, ny))
        return
    sheet = merged("print", level(face(_outline(style, nx, ny) * 0.9), PLATE + 0.01))
    yield from (body, *others, Shell("print", sheet.vertices, sheet.triangles, _uv(sheet.vertices, nx, ny)))


def _uv(vertices, nx, ny):
    return vertices[:, :2] / (nx * PITCH, ny * PITCH) + 0.5


def _round(style):
    c, facets = style.clearance, 2 * style.facets
    waist = [(TUBE_RADIUS, 0), (TUBE_RADIUS, 1.6), (4 - c, 1.6)]
    return _lathed(style, waist, [(4 - c, BRICK)], facets)


def _cone(style):
    c, facets = style.clearance, 2 * style.facets
    return _lathed(style, [(TUBE_RADIUS, 0), (TUBE_RADIUS, 1.6), (4 - c, 1.6), (4 - c, 3.2)], [(2.9, BRICK)], facets)


def _lathed(style, foot, top, facets):
    height = top[-1][1]
    bottom = [(0, 1.8), (STUD_RADIUS, 1.8), (STUD_RADIUS, 0)] if style.hollow else [(0, 0)]
    stud = [(STUD_RADIUS, height), (STUD_RADIUS, height + STUD_HEIGHT), (0, height + STUD_HEIGHT)]
    if style.fused:
        yield merged("body", turned([*bottom, *foot, *top, *stud], facets))
        return
    yield merged("body", turned([*bottom, *foot, *top, (0, height)], facets))
    yield merged("stud", turned([(0, height), *stud], facets))


def _drum(style):
    """A round brick two studs wide with one stud in its middle: four would reach over its edge."""
    solid, facets = _Solid(style), 2 * style.facets
    outline = circle(0, 0, PITCH - style.clearance, facets)
    solid.panel(outline, [(0, 0)], at=BRICK * Z)
    solid.body.append(wall(outline, 0, BRICK))
    solid.below(outline, circle(0, 0, PITCH - style.clearance - WALL, facets), BRICK - ROOF, tubes=[(0, 0)])
    return solid.shells()


def _swept(style, profile, width, studs, holes=(), hollow=()):
    """A profile (n, 2) in y and z drawn along x; `studs` {edge: places along it and along x}, `holes` through along x,
    and a shallow hollow under the first edge."""
    solid, half = _Solid(style), width / 2
    rings = [circle(y, z, STUD_RADIUS, style.facets) for y, z in holes]
    flat = face(profile, rings)
    ends = [level(flat, half), level(flat, -half, up=False), *(wall(ring[::-1], -half, half) for ring in rings)]
    solid.body += [set_on(soup, 0 * X, Y, Z) for soup in ends]
    for edge, (start, stop) in enumerate(zip(profile, np.roll(profile, -1, axis=0), strict=True)):
        along = (stop - start) / np.linalg.norm(stop - start)
        outline = rectangle(0, -half, np.linalg.norm(stop - start), half)
        if edge in hollow and style.hollow:
            (y0, y1), x = (start[0], stop[0]), half
            solid.below(rectangle(-x, y0, x, y1), rectangle(-x + WALL, y0 + WALL, x - WALL, y1 - WALL), 1.8)
        else:
            solid.panel(outline, studs.get(edge, ()), np.r_[0, start], np.r_[0, along], X)
    return solid.shells()


def _slope(style, nx, depth):
    """A roof brick: one row of studs at the back, from there down to a lip at the front."""
    c, lip = style.clearance, 1.5
    front, back = -depth * PITCH / 2 + c, depth * PITCH / 2 - c
    profile = np.array([[front, 0], [back, 0], [back, BRICK], [back - PITCH + c, BRICK], [front, lip]])
    studs = {2: [(PITCH / 2 - c, x) for x, _ in _grid(nx, 1)]}
    return _swept(style, profile, nx * PITCH - 2 * c, studs, hollow=(0,))


def _arch(style, nx):
    """An arch over all but its two outer studs; drawn along y and turned a quarter to stand along x."""
    c, half = style.clearance, nx * PITCH / 2
    radius = half - PITCH
    bow = [(-radius * np.cos(t), 6.5 * np.sin(t)) for t in np.linspace(0, np.pi, 2 * style.facets + 1)]
    profile = np.array([(-half + c, 0), *bow, (half - c, 0), (half - c, BRICK), (-half + c, BRICK)])
    studs = {len(profile) - 2: [(half - c - x, 0) for x, _ in _grid(nx, 1)]}
    return _turned_quarter(_swept(style, profile, PITCH - 2 * c, studs))


def _bracket(style, nx):
    """A plate one stud deep with a flange hanging off its front, studs up and forward."""
    c = style.clearance
    front, back = -PITCH / 2, PITCH / 2 - c
    profile = np.array(
        [[front, 0], [back, 0], [back, PLATE], [front - 1.6, PLATE], [front - 1.6, PLATE - BRICK + c],
         [front, PLATE - BRICK + c]]
    )  # fmt: skip
    x = [x for x, _ in _grid(nx, 1)]
    studs = {2: [(PITCH / 2 - c, each) for each in x], 3: [(PLATE + 1.6, each) for each in x]}
    return _swept(style, profile, nx * PITCH - 2 * c, studs)


def _side(style):
    """A brick of one stud with a second stud on its front."""
    c = style.clearance
    y = PITCH / 2 - c
    profile = np.array([[-y, 0], [y, 0], [y, BRICK], [-y, BRICK]])
    return _swept(style, profile, PITCH - 2 * c, {2: [(y, 0)], 3: [(BRICK - 4.0, 0)]}, hollow=(0,))


def _holed(style, nx):
    """A brick with studs on top and pin holes through its side; along x."""
    c, half = style.clearance, nx * PITCH / 2 - style.clearance
    profile = rectangle(-half, 0, half, BRICK)
    studs = {2: [(half - x, 0) for x, _ in _grid(nx, 1)]}
    holes = [(x, 5.8) for x, _ in _grid(nx - 1, 1)]
    return _turned_quarter(_swept(style, profile, PITCH - 2 * c, studs, holes))


def _beam(style, nx):
    """A beam without studs, round at both ends, a pin hole at each pitch; along x, its origin on their axes."""
    end, half = (nx - 1) * PITCH / 2, PITCH / 2 - style.clearance
    angle = np.linspace(-np.pi / 2, np.pi / 2, style.facets + 1)
    arc = np.stack([end + half * np.cos(angle), half * np.sin(angle)], axis=1)
    profile = np.concatenate([arc, arc[::-1] * (-1, 1)])
    holes = [(x, 0) for x, _ in _grid(nx, 1)]
    return _turned_quarter(_swept(style, profile, PITCH - 2 * style.clearance, {}, holes))


def _pin(style):
    """A pin through two beams, along z."""
    thick, slim, end = 2.3, 2.0, 7.8
    profile = [(0, -end), (slim, -end), (thick, 0.8 - end), (thick, end - 0.8), (slim, end), (0, end)]
    yield merged("body", turned(profile, style.facets))


def _hinge(style):
    """Half a hinge: a plate one stud wide whose round end lies on the hinge's axis, x at (y, z) = (0, 1.6)."""
    c, radius = style.clearance, PLATE / 2
    angle = np.linspace(np.pi / 2, 3 * np.pi / 2, style.facets + 1)
    arc = np.stack([radius * np.cos(angle), radius + radius * np.sin(angle)], axis=1)
    profile = np.concatenate([[[PITCH + 1 - c, 0], [PITCH + 1 - c, PLATE]], arc])
    return _swept(style, profile, PITCH - 2 * c, {1: [(PITCH / 2 - c, 0)]})


def _wing(style, left):
    """A wedge of a plate, three studs long; its mirror image is a part of its own."""
    c = style.clearance
    outline = np.array([[-12 + c, -8 + c], [12 - c, -8 + c], [12 - c, -c], [-12 + c, 8 - c]], dtype=float)
    solid = _Solid(style)
    solid.panel(outline, [(-8, -4), (0, -4), (8, -4), (-8, 3.0)], at=PLATE * Z)
    solid.body += [wall(outline, 0, PLATE), level(face(outline), 0, up=False)]
    return (_mirrored(shell) for shell in solid.shells()) if left else solid.shells()


def _mirrored(shell):
    return Shell(shell.role, shell.vertices * (-1, 1, 1), shell.triangles[:, ::-1], shell.uv)


def _turned_quarter(shells):
    """What was made along y, along x."""
    for shell in shells:
        x, y, z = shell.vertices.T
        yield Shell(shell.role, np.stack([y, -x, z], axis=1), shell.triangles, shell.uv)


_KINDS: dict[str, Callable] = {
    "brick": _brick,
    "plate": _plate,
    "ground": _ground,
    "tile": _tile,
    "print": _print,
    "round": _round,
    "cone": _cone,
    "drum": _drum,
    "slope": _slope,
    "arch": _arch,
    "bracket": _bracket,
    "side": _side,
    "holed": _holed,
    "beam": _beam,
    "pin": _pin,
    "hinge": _hinge,
    "wing": _wing,
}
