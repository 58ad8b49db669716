"""The demo's parts: bricks, plates, tiles, slopes and a few odd ones, in mm, z up, origin under the footprint's middle.

All sizes are the trade's nominal ones and leave no clearance: a CAD program's 2x4 brick measures exactly
16 x 32 x 9.6 mm.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..core.remembered import keeping
from ..core.sizes import TRADE
from .surface import Flat, Mesh, Skin

PITCH, PLATE, BRICK = TRADE.pitch, TRADE.plate_height, TRADE.brick_height
STUD_RADIUS, STUD_HEIGHT = TRADE.stud_diameter / 2, TRADE.stud_height
WALL, TOP = TRADE.wall, TRADE.roof
TUBE_OUTER, TUBE_INNER = TRADE.tube_outside / 2, TRADE.tube_inside / 2  # radii
POST = TRADE.post_diameter / 2
LIP = TRADE.slope_lip
LOW = 2.0  # depth of the hollow where a tilted or pointed top leaves little room above it


@dataclass(frozen=True)
class Part:
    """What a builder knows of a part."""

    name: str
    cells: tuple[int, int]  # footprint in pitches, x and y
    plates: int  # height of the body in plates, studs not counted
    studs: tuple[Flat, ...]  # stud centres, mm from the origin
    sockets: tuple[Flat, ...]  # centres of the cells that take a stud from below, mm from the origin
    draw: Callable[[Part, Skin], None]

    @property
    def height(self) -> float:
        """Height of the body in mm, studs not counted."""
        return self.plates * PLATE

    @property
    def size(self) -> Flat:
        """Footprint in mm."""
        return self.cells[0] * PITCH, self.cells[1] * PITCH

    def mesh(self) -> Mesh:
        """The part's closed surface, studs and underside included."""
        return _drawn(self)


@keeping(64)
def _drawn(part: Part) -> Mesh:
    skin = Skin()
    part.draw(part, skin)
    mesh = skin.mesh()
    return Mesh(mesh.positions - np.array([part.size[0] / 2, part.size[1] / 2, 0.0]), mesh.normals, mesh.triangles)


# From here on a part is drawn with its corner at the origin: x and y run from 0 to its size.


def _steps(cells: int) -> list[float]:
    return [PITCH * i for i in range(cells + 1)]


def _rectangle(x0: float, y0: float, x1: float, y1: float) -> list[Flat]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _stud(skin: Skin, centre: Flat, z: float) -> None:
    skin.round_wall(centre, (STUD_RADIUS, z), (STUD_RADIUS, z + STUD_HEIGHT))
    skin.disc(centre, STUD_RADIUS, z + STUD_HEIGHT, up=True)


def _studded(skin: Skin, xs: list[float], ys: list[float], z: float) -> None:
    """A level top with a stud in each cell."""
    for (x0, x1), (y0, y1) in ((x, y) for x in pairwise(xs) for y in pairwise(ys)):
        centre = ((x0 + x1) / 2, (y0 + y1) / 2)
        skin.holed(_rectangle(x0, y0, x1, y1), z, centre, STUD_RADIUS, up=True)
        _stud(skin, centre, z)


def _sides(skin: Skin, xs: list[float], ys: list[float], z: float) -> None:
    """Four walls from the table up to z, with the points on their upper edges where the top has its own."""
    x1, y1 = xs[-1], ys[-1]
    skin.face([(0, 0, 0), (x1, 0, 0), *((x, 0, z) for x in reversed(xs))], (0, -1, 0))
    skin.face([(0, y1, 0), (x1, y1, 0), *((x, y1, z) for x in reversed(xs))], (0, 1, 0))
    skin.face([(0, 0, 0), (0, y1, 0), *((0, y, z) for y in reversed(ys))], (-1, 0, 0))
    skin.face([(x1, 0, 0), (x1, y1, 0), *((x1, y, z) for y in reversed(ys))], (1, 0, 0))


def _hollow(skin: Skin, x0: float, y0: float, cells: tuple[int, int], ceiling: float) -> None:
    """The underside: rim, inner walls, ceiling, and the tubes or posts between which the studs below are held."""
    x1, y1 = x0 + cells[0] * PITCH, y0 + cells[1] * PITCH
    outer, inner = _rectangle(x0, y0, x1, y1), _rectangle(x0 + WALL, y0 + WALL, x1 - WALL, y1 - WALL)
    for k in range(4):
        n = (k + 1) % 4
        skin.face([(*outer[k], 0), (*outer[n], 0), (*inner[n], 0), (*inner[k], 0)], (0, 0, -1))
    xs = [inner[0][0], *(x0 + PITCH * (i + 0.5) for i in range(1, cells[0] - 1)), inner[2][0]]
    ys = [inner[0][1], *(y0 + PITCH * (i + 0.5) for i in range(1, cells[1] - 1)), inner[2][1]]
    ix0, ix1, iy0, iy1 = xs[0], xs[-1], ys[0], ys[-1]
    skin.face([(ix0, iy0, 0), (ix1, iy0, 0), *((x, iy0, ceiling) for x in reversed(xs))], (0, 1, 0))
    skin.face([(ix0, iy1, 0), (ix1, iy1, 0), *((x, iy1, ceiling) for x in reversed(xs))], (0, -1, 0))
    skin.face([(ix0, iy0, 0), (ix0, iy1, 0), *((ix0, y, ceiling) for y in reversed(ys))], (1, 0, 0))
    skin.face([(ix1, iy0, 0), (ix1, iy1, 0), *((ix1, y, ceiling) for y in reversed(ys))], (-1, 0, 0))
    for i, (xa, xb) in enumerate(pairwise(xs)):
        for j, (ya, yb) in enumerate(pairwise(ys)):
            room = _rectangle(xa, ya, xb, yb)
            if cells == (1, 1):
                skin.face([(*p, ceiling) for p in room], (0, 0, -1))
            elif 1 in cells:
                along_x = cells[1] == 1
                centre = (x0 + PITCH * (i + 1), y0 + PITCH / 2) if along_x else (x0 + PITCH / 2, y0 + PITCH * (j + 1))
                skin.holed(room, ceiling, centre, POST, up=False)
                skin.round_wall(centre, (POST, 0), (POST, ceiling))
                skin.disc(centre, POST, 0, up=False)
            else:
                centre = (x0 + PITCH * (i + 1), y0 + PITCH * (j + 1))
                skin.holed(room, ceiling, centre, TUBE_OUTER, up=False)
                skin.round_wall(centre, (TUBE_OUTER, 0), (TUBE_OUTER, ceiling))
                skin.ring(centre, TUBE_INNER, TUBE_OUTER, 0, up=False)
                skin.round_wall(centre, (TUBE_INNER, 0), (TUBE_INNER, ceiling), outside=False)
                skin.disc(centre, TUBE_INNER, ceiling, up=False)


def _box(part: Part, skin: Skin) -> None:
    """A brick or a plate."""
    xs, ys = _steps(part.cells[0]), _steps(part.cells[1])
    _studded(skin, xs, ys, part.height)
    _sides(skin, xs, ys, part.height)
    _hollow(skin, 0, 0, part.cells, part.height - TOP)


def _tile(part: Part, skin: Skin) -> None:
    """A plate without studs."""
    (x1, y1), z = part.size, part.height
    skin.face([(*p, z) for p in _rectangle(0, 0, x1, y1)], (0, 0, 1))
    _sides(skin, [0, x1], [0, y1], z)
    _hollow(skin, 0, 0, part.cells, z - TOP)


def _jumper(part: Part, skin: Skin) -> None:
    """A plate with one stud in its middle: what stands on it moves by half a pitch."""
    (x1, y1), z = part.size, part.height
    centre = (x1 / 2, y1 / 2)
    skin.holed(_rectangle(0, 0, x1, y1), z, centre, STUD_RADIUS, up=True)
    _stud(skin, centre, z)
    _sides(skin, [0, x1], [0, y1], z)
    _hollow(skin, 0, 0, part.cells, z - TOP)


def _slope(part: Part, skin: Skin) -> None:
    """Low at y = 0, rising to a row of studs at the back."""
    (x1, y1), z = part.size, part.height
    xs, back = _steps(part.cells[0]), y1 - PITCH
    _studded(skin, xs, [back, y1], z)
    skin.face([(0, 0, LIP), (x1, 0, LIP), *((x, back, z) for x in reversed(xs))], (0, -1, 1))
    skin.face([(0, 0, 0), (x1, 0, 0), (x1, 0, LIP), (0, 0, LIP)], (0, -1, 0))
    skin.face([(0, y1, 0), (x1, y1, 0), *((x, y1, z) for x in reversed(xs))], (0, 1, 0))
    for x, out in ((0, -1), (x1, 1)):
        skin.face([(x, 0, 0), (x, y1, 0), (x, y1, z), (x, back, z), (x, 0, LIP)], (out, 0, 0))
    _hollow(skin, 0, 0, part.cells, LOW)


def _wedge(part: Part, skin: Skin) -> None:
    """One tilted face over the whole footprint, low at y = 0, no studs."""
    (x1, y1), z = part.size, part.height
    skin.face([(0, 0, LIP), (x1, 0, LIP), (x1, y1, z), (0, y1, z)], (0, -1, 1))
    skin.face([(0, 0, 0), (x1, 0, 0), (x1, 0, LIP), (0, 0, LIP)], (0, -1, 0))
    skin.face([(0, y1, 0), (x1, y1, 0), (x1, y1, z), (0, y1, z)], (0, 1, 0))
    for x, out in ((0, -1), (x1, 1)):
        skin.face([(x, 0, 0), (x, y1, 0), (x, y1, z), (x, 0, LIP)], (out, 0, 0))
    _hollow(skin, 0, 0, part.cells, LOW)


def _ridge(part: Part, skin: Skin) -> None:
    """Two tilted faces that meet over the middle."""
    (x1, y1), z = part.size, part.height
    for y, out in ((0, -1), (y1, 1)):
        skin.face([(0, y, LIP), (x1, y, LIP), (x1, y1 / 2, z), (0, y1 / 2, z)], (0, out, 1))
        skin.face([(0, y, 0), (x1, y, 0), (x1, y, LIP), (0, y, LIP)], (0, out, 0))
    for x, out in ((0, -1), (x1, 1)):
        skin.face([(x, 0, 0), (x, y1, 0), (x, y1, LIP), (x, y1 / 2, z), (x, 0, LIP)], (out, 0, 0))
    _hollow(skin, 0, 0, part.cells, LOW)


def _hip(part: Part, skin: Skin) -> None:
    """The outer corner between two slopes: low along x = 0 and y = 0, one stud in the far corner."""
    (x1, y1), z = part.size, part.height
    bx, by = x1 - PITCH, y1 - PITCH
    _studded(skin, [bx, x1], [by, y1], z)
    skin.face([(0, 0, LIP), (x1, 0, LIP), (x1, by, z), (bx, by, z)], (0, -1, 1))
    skin.face([(0, 0, LIP), (bx, by, z), (bx, y1, z), (0, y1, LIP)], (-1, 0, 1))
    skin.face([(0, 0, 0), (x1, 0, 0), (x1, 0, LIP), (0, 0, LIP)], (0, -1, 0))
    skin.face([(0, 0, 0), (0, y1, 0), (0, y1, LIP), (0, 0, LIP)], (-1, 0, 0))
    skin.face([(x1, 0, 0), (x1, y1, 0), (x1, y1, z), (x1, by, z), (x1, 0, LIP)], (1, 0, 0))
    skin.face([(0, y1, 0), (x1, y1, 0), (x1, y1, z), (bx, y1, z), (0, y1, LIP)], (0, 1, 0))
    _hollow(skin, 0, 0, part.cells, LOW)


def _round(part: Part, skin: Skin) -> None:
    """A round brick or plate."""
    _spindle(skin, part.height, [(PITCH / 2, 0), (PITCH / 2, part.height)], part.height - TOP)


def _cone(part: Part, skin: Skin) -> None:
    """A round foot that narrows towards its stud."""
    _spindle(skin, part.height, [(PITCH / 2, 0), (PITCH / 2, LIP), (STUD_RADIUS + 0.4, part.height)], LOW)


def _spindle(skin: Skin, height: float, outline: list[tuple[float, float]], ceiling: float) -> None:
    middle, hole = (PITCH / 2, PITCH / 2), PITCH / 2 - WALL
    for low, high in pairwise(outline):
        skin.round_wall(middle, low, high)
    skin.ring(middle, STUD_RADIUS, outline[-1][0], height, up=True)
    _stud(skin, middle, height)
    skin.ring(middle, hole, PITCH / 2, 0, up=False)
    skin.round_wall(middle, (hole, 0), (hole, ceiling), outside=False)
    skin.disc(middle, hole, ceiling, up=False)


def _arch(part: Part, skin: Skin) -> None:
    """Two feet of one cell and a half circle between them."""
    (x1, y1), z, xs = part.size, part.height, _steps(part.cells[0])
    radius = x1 / 2 - PITCH
    turn = np.pi * (1 - np.arange(17) / 16)
    bow = [(x1 / 2 + radius * float(np.cos(t)), radius * float(np.sin(t))) for t in turn]
    bow[0], bow[-1] = (PITCH, 0.0), (x1 - PITCH, 0.0)
    _studded(skin, xs, [0, y1], z)
    for x, out in ((0, -1), (x1, 1)):
        skin.face([(x, 0, 0), (x, y1, 0), (x, y1, z), (x, 0, z)], (out, 0, 0))
    for y, out in ((0, -1), (y1, 1)):
        below = [(0.0, 0.0), *bow, (x1, 0.0)]
        skin.between([(x, y, h) for x, h in below], [(x, y, z) for x in xs], (0, out, 0))
    for (xa, za), (xb, zb) in pairwise(bow):
        inward = (x1 / 2 - (xa + xb) / 2, 0, -(za + zb) / 2)
        skin.face([(xa, 0, za), (xb, 0, zb), (xb, y1, zb), (xa, y1, za)], inward)
    for x in (0, x1 - PITCH):
        _hollow(skin, x, 0, (1, 1), LOW)


def _fence(part: Part, skin: Skin) -> None:
    """A plate that carries a row of pickets under a rail."""
    (x1, y1), z = part.size, part.height
    pickets, thick = 2 * part.cells[0], 2.0
    edges = [0.0]
    for k in range(pickets):
        middle = x1 * (k + 0.5) / pickets
        edges += [middle - thick / 2, middle + thick / 2]
    edges.append(x1)
    ya, yb = (y1 - thick) / 2, (y1 + thick) / 2
    _sides(skin, edges, [0, ya, yb, y1], PLATE)
    _hollow(skin, 0, 0, part.cells, PLATE - TOP)
    for i, (xa, xb) in enumerate(pairwise(edges)):
        picket = i % 2 == 1
        for y0, y2 in ((0, ya), (yb, y1)) if picket else ((0, ya), (ya, yb), (yb, y1)):
            skin.face([(*p, PLATE) for p in _rectangle(xa, y0, xb, y2)], (0, 0, 1))
        rail = z - thick
        for y, out in ((ya, -1), (yb, 1)):
            skin.face([(xa, y, rail), (xb, y, rail), (xb, y, z), (xa, y, z)], (0, out, 0))
            if picket:
                skin.face([(xa, y, PLATE), (xb, y, PLATE), (xb, y, rail), (xa, y, rail)], (0, out, 0))
        skin.face([(*p, z) for p in _rectangle(xa, ya, xb, yb)], (0, 0, 1))
        if picket:
            for x, out in ((xa, -1), (xb, 1)):
                skin.face([(x, ya, PLATE), (x, yb, PLATE), (x, yb, rail), (x, ya, rail)], (out, 0, 0))
        else:
            skin.face([(*p, rail) for p in _rectangle(xa, ya, xb, yb)], (0, 0, -1))
    for x, out in ((0.0, -1), (x1, 1)):
        skin.face([(x, ya, z - thick), (x, yb, z - thick), (x, yb, z), (x, ya, z)], (out, 0, 0))


def _grid(cells: tuple[int, int], rows: range | None = None) -> tuple[Flat, ...]:
    nx, ny = cells
    return tuple(
        (PITCH * (i + 0.5 - nx / 2), PITCH * (j + 0.5 - ny / 2)) for i in range(nx) for j in (rows or range(ny))
    )


def _catalogue() -> dict[str, Part]:
    parts: dict[str, Part] = {}

    def add(name: str, cells: tuple[int, int], plates: int, draw: Callable, studs=None, sockets=None) -> None:
        parts[name] = Part(name, cells, plates, _grid(cells) if studs is None else studs, sockets or _grid(cells), draw)

    for nx, ny in [(1, 1), (1, 2), (1, 3), (1, 4), (2, 2), (2, 3), (2, 4), (2, 6), (2, 8)]:
        add(f"brick_{nx}x{ny}", (nx, ny), 3, _box)
    for nx, ny in [
        (1, 1), (1, 2), (1, 3), (1, 4), (1, 6), (1, 8), (2, 2), (2, 3), (2, 4), (2, 6), (2, 8),
        (4, 4), (4, 6), (4, 8), (6, 8), (8, 8),
    ]:  # fmt: skip
        add(f"plate_{nx}x{ny}", (nx, ny), 1, _box)
    for nx, ny in [(1, 1), (1, 2), (1, 4), (2, 2)]:
        add(f"tile_{nx}x{ny}", (nx, ny), 1, _tile, studs=())
    add("jumper_2x2", (2, 2), 1, _jumper, studs=((0.0, 0.0),))
    for nx, ny in [(1, 2), (2, 2), (2, 3)]:
        add(f"slope_{nx}x{ny}", (nx, ny), 3, _slope, studs=_grid((nx, ny), range(ny - 1, ny)))
    add("wedge_1x1", (1, 1), 2, _wedge, studs=())
    add("wedge_1x2", (2, 1), 2, _wedge, studs=())
    add("ridge_1x2", (1, 2), 3, _ridge, studs=())
    add("ridge_2x2", (2, 2), 3, _ridge, studs=())
    add("hip_2x2", (2, 2), 3, _hip, studs=((PITCH / 2, PITCH / 2),))
    add("round_brick_1x1", (1, 1), 3, _round)
    add("round_plate_1x1", (1, 1), 1, _round)
    add("cone_1x1", (1, 1), 3, _cone)
    add("arch_1x4", (4, 1), 3, _arch, sockets=((-1.5 * PITCH, 0.0), (1.5 * PITCH, 0.0)))
    add("fence_1x4", (4, 1), 3, _fence, studs=())
    return parts


PARTS: dict[str, Part] = _catalogue()
