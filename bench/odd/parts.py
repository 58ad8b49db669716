"""The catalogue of odd parts: upright ones, slopes, wedges and rounds; those of `fittings` beside them."""

from collections.abc import Callable
from functools import cache

import numpy as np

from . import fittings
from .solids import (
    BRICK,
    FOOT,
    LIP,
    PITCH,
    PLATE,
    ROOF,
    STUD_RADIUS,
    TUBE_RADIUS,
    WALL,
    Mould,
    Odd,
    Style,
    box,
    circle,
    column,
    drawn,
    grid,
    hull,
    moulded,
    on_top,
    ring,
    rod,
)


@cache
def odd(name: str, style: Style) -> Odd:
    kind, *numbers = name.split("-")
    return _KINDS[kind](style, *map(int, numbers)).made()


# Upright ones.


def _brick(style, nx, ny):
    return moulded(style, nx, ny, BRICK)


def _plate(style, nx, ny):
    return moulded(style, nx, ny, PLATE)


def _tile(style, nx, ny):
    return moulded(style, nx, ny, PLATE, ())


def _jumper(style, ny):
    """Two studs wide, with one stud in its middle."""
    return moulded(style, 2, ny, PLATE, [(0, 0, PLATE)])


def _corner(style):
    """An angle of three studs; the one at +x, +y is missing."""
    c, mould = style.clearance, Mould(style)
    mould.piece(box((-8 + c, -8 + c, 0), (8 - c, -c, PLATE))).piece(box((-8 + c, -8 + c, 0), (-c, 8 - c, PLATE)))
    for x, y in ((-4, -4), (4, -4), (-4, 4)):
        mould.hollow((x - 2.45, y - 2.45, -1), (x + 2.45, y + 2.45, 2.0))
    return mould.stud([(-4, -4, PLATE), (4, -4, PLATE), (-4, 4, PLATE)])


# Slopes: the low side at -y, drawn along x.

_SLOPES = {45: (2, BRICK), 33: (3, BRICK), 25: (3, BRICK), 65: (2, 2 * BRICK)}  # degrees: studs deep, mm high


def fall(angle: int) -> tuple[int, float, float, float]:
    """Studs deep, height, how far a slope runs and how high its low side is."""
    depth, height = _SLOPES[angle]
    tangent = np.tan(np.radians(angle))
    run = min((height - LIP) / tangent, (depth - 1) * PITCH)
    return depth, height, run, height - run * tangent


def _slope(style, angle, nx):
    c, (depth, height, run, lip) = style.clearance, fall(angle)
    front, back, half = -depth * 4 + c, depth * 4 - c, nx * 4 - c
    mould = Mould(style).piece(
        drawn([(front, 0), (back, 0), (back, height), (front + run, height), (front, lip)], half)
    )
    mould.hollow((-half + WALL, front + 3.0, -1), (half - WALL, back - WALL, min(1.8, lip)))
    return mould.stud([(x, depth * 4 - 4, height) for x, _ in grid(nx, 1)])


def _inverse(style, angle, nx):
    """A slope on its head: its seat is one row, its studs are on all of them."""
    c, (depth, height, run, lip) = style.clearance, fall(angle)
    front, back, half = -depth * 4 + c, depth * 4 - c, nx * 4 - c
    mould = Mould(style).piece(
        drawn([(front, height), (back, height), (back, 0), (front + run, 0), (front, height - lip)], half)
    )
    mould.hollow((-half + WALL, back - 8 + c + WALL, -1), (half - WALL, back - WALL, 1.8))
    return mould.stud(on_top(nx, depth, height))


def _ridge(style, nx):
    """The top of a roof: it falls to both sides and has no studs."""
    c, half = style.clearance, nx * 4 - style.clearance
    mould = Mould(style).piece(drawn([(-8 + c, 0), (8 - c, 0), (8 - c, LIP), (0, LIP + 8 - c), (-8 + c, LIP)], half))
    return mould.hollow((-half + WALL, -5, -1), (half - WALL, 5, 1.8))


def _hip(style):
    """The corner of a roof: it falls to -x and to -y."""
    c = style.clearance
    e = 8 - c
    foot, lip, top = (box((-e, -e, z), (e, e, z)) for z in (0, LIP, 0))
    top = box((-c, -c, BRICK), (e, e, BRICK))
    mould = Mould(style).piece(np.concatenate([foot, lip, top])).hollow((-5, -5, -1), (e - WALL, e - WALL, 1.5))
    return mould.stud([(4, 4, BRICK)])


def _valley(style):
    """The inner corner of a roof: low at -x and -y, high along +x and +y."""
    c = style.clearance
    e = 8 - c
    profile = [(-e, 0), (e, 0), (e, BRICK), (-c, BRICK), (-e, LIP)]
    along_x = drawn(profile, e)
    mould = Mould(style).piece(along_x).piece(along_x[:, [1, 0, 2]])
    mould.hollow((-5, -5, -1), (e - WALL, e - WALL, 1.5))
    return mould.stud([(4, 4, BRICK), (-4, 4, BRICK), (4, -4, BRICK)])


# Wedges in plan.


def _planned(style, outline, height, studs, hollows=()):
    mould = Mould(style).piece(column(outline, 0, height))
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
    mould, high = Mould(style), height * PLATE
    mould.piece(column(circle(TUBE_RADIUS, facets), 0, FOOT))
    outer = circle(4 - c, facets)
    if top is None:
        mould.piece(column(outer, FOOT, high))
    else:
        mould.piece(np.concatenate([column(outer, FOOT, 3.2), column(circle(top, facets), high, high)]))
    if style.hollow:
        mould.hollows.append(rod((0, 0), STUD_RADIUS, -1, 1.8, facets))
    return mould.stud([(0, 0, high)])


def _cone(style):
    return _round(style, 3, 2.9)


def _disc(style, n, height=1):
    """Round, n studs wide, with a stud on each place that it has room for."""
    c, facets, high = style.clearance, max(style.facets, 12), height * PLATE
    room = n * 4 - c - STUD_RADIUS - 0.3
    studs = [(x, y) for x, y in (grid(n, n) if n > 2 else [(0, 0)]) if np.hypot(x, y) <= room]
    outline = circle(n * 4 - c, facets)
    mould = Mould(style).piece(column(outline, 0, high)).stud([(x, y, high) for x, y in studs])
    if style.hollow:
        mould.hollows.append(hull(column(circle((n * 4 - c) * np.cos(np.pi / facets) - WALL, facets), -1, high - ROOF)))
    return mould


def _steeple(style):
    """A cone two studs wide and two bricks high."""
    c, facets = style.clearance, style.facets
    corners = [column(circle(8 - c, facets), 0, FOOT), column(circle(4 - c, facets), 2 * BRICK, 2 * BRICK)]
    mould = Mould(style).piece(np.concatenate(corners)).stud([(0, 0, 2 * BRICK)])
    if style.hollow:
        mould.hollows.append(rod((0, 0), 5.0, -1, 1.8, facets))
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
    mould = Mould(style)
    step = c / 12  # keeps its ends off the next one's
    for quad in ring(8 + c, 16 - c, facets, step, np.pi / 2 - 2 * step):
        mould.piece(column(quad - 8, 0, BRICK))
    return mould.stud([(-4, 4, BRICK), (4, -4, BRICK)])


_KINDS: dict[str, Callable[..., Mould]] = {
    "brick": _brick, "plate": _plate, "tile": _tile, "jumper": _jumper, "corner": _corner,
    "slope": _slope, "inverse": _inverse, "ridge": _ridge, "hip": _hip, "valley": _valley,
    "wing": _wing, "delta": _delta, "wedge": _wedge,
    "round": _round, "cone": _cone, "disc": _disc, "steeple": _steeple, "quarter": _quarter, "bend": _bend,
    "gate": fittings.gate, "bow": fittings.bow, "panel": fittings.panel,
    "bracket": fittings.bracket, "riser": fittings.riser, "side": fittings.side,
    "hinge": fittings.hinge, "bar": fittings.bar, "clip": fittings.clip,
    "ball": fittings.ball, "socket": fittings.socket, "holed": fittings.holed, "beam": fittings.beam,
    "pin": fittings.pin,
}  # fmt: skip
EXAMPLES = (
    "brick-2-4", "plate-1-1", "tile-2-1", "jumper-1", "jumper-2", "corner", "slope-45-2", "slope-33-2", "slope-25-1",
    "slope-65-1", "inverse-45-2", "inverse-33-1", "inverse-25-2", "inverse-65-1", "ridge-2", "hip", "valley",
    "wing-3-0", "wing-4-1", "wing-6-0", "delta-3", "delta-4", "wedge-3", "wedge-4", "round-3", "round-1", "cone",
    "disc-2", "disc-2-3", "disc-3", "disc-4", "steeple", "quarter-2", "quarter-3", "bend", "gate-3", "gate-4", "bow-4",
    "bow-6", "panel-2", "bracket-1", "bracket-2", "riser-2", "side-1-1", "side-1-2", "side-2-1", "side-4-1",
    "hinge-1-0", "hinge-1-1", "hinge-2-0", "bar-3", "clip", "ball", "socket", "holed-3", "beam-3", "pin",
)  # fmt: skip
