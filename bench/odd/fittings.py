"""Openings, studs to the side, hinges, bars, balls and pins."""

from itertools import pairwise

import numpy as np

from .solids import (
    BALL_RADIUS,
    BAR_RADIUS,
    BRICK,
    FLANGE,
    HOLE_RADIUS,
    PIN_RADIUS,
    PLATE,
    WALL,
    Mould,
    X,
    Y,
    around,
    box,
    circle,
    column,
    drawn,
    grid,
    hull,
    moulded,
    moved,
    on_top,
    ring,
)

# Openings.


def gate(style, nx):
    """A square arch: two legs and what they carry; along x."""
    c, h, half = style.clearance, nx * 4 - style.clearance, 4 - style.clearance
    mould = Mould(style).piece(box((-h, -half, BRICK - PLATE), (h, half, BRICK)))
    for sign in (-1, 1):
        inner = sign * (nx * 4 - 8 + c)
        mould.piece(box((min(sign * h, inner), -half, 0), (max(sign * h, inner), half, BRICK)))
        mould.hollow((sign * (nx * 4 - 4) - 2.45, -2.45, -1), (sign * (nx * 4 - 4) + 2.45, 2.45, 2.0))
    return mould.stud(on_top(nx, 1, BRICK))


def bow(style, nx):
    """A round arch over all but its two outer studs; along x."""
    c, h, half = style.clearance, nx * 4 - style.clearance, 4 - style.clearance
    mould, inner = Mould(style), nx * 4 - 8 + c
    angle = np.linspace(0, np.pi, max(style.facets // 2, 4) + 1)
    bow = np.stack([-inner * np.cos(angle), 6.5 * np.sin(angle)], axis=1)
    bow[:, 1] = np.maximum(bow[:, 1], 0.0)
    for (x0, z0), (x1, z1) in pairwise(bow):
        mould.piece(drawn([(x0, z0), (x1, z1), (x1, BRICK), (x0, BRICK)], half)[:, [1, 0, 2]])
    for sign in (-1, 1):
        mould.piece(box((min(sign * h, sign * inner), -half, 0), (max(sign * h, sign * inner), half, BRICK)))
        mould.hollow((sign * (nx * 4 - 4) - 2.45, -2.45, -1), (sign * (nx * 4 - 4) + 2.45, 2.45, 2.0))
    return mould.stud(on_top(nx, 1, BRICK))


def panel(style, nx):
    """A thin wall on a plate one stud deep; the wall at +y."""
    h, half = nx * 4 - style.clearance, 4 - style.clearance
    mould = Mould(style).piece(box((-h, -half, 0), (h, half, PLATE)))
    mould.piece(box((-h, half - FLANGE, 0), (h, half, 2 * BRICK)))
    return mould.hollow((-h + WALL, -half + WALL, -1), (h - WALL, half - WALL, 2.0))


# Studs to the side.


def bracket(style, nx):
    """A plate one stud deep with a flange that hangs off its front, studs up and to -y."""
    c = style.clearance
    h, front, back = nx * 4 - c, -4 - FLANGE, 4 - c
    mould = Mould(style).piece(box((-h, front, 0), (h, back, PLATE)))
    mould.piece(box((-h, front, PLATE - 8 + c), (h, -4, PLATE)))
    mould.hollow((-h + WALL, -2.5, -1), (h - WALL, 2.5, 2.0)).stud(on_top(nx, 1, PLATE))
    return mould.stud([(x, front, PLATE - 4) for x, _ in grid(nx, 1)], -Y)


def riser(style, nx):
    """The same with its flange standing up."""
    c = style.clearance
    h, front, back = nx * 4 - c, -4 - FLANGE, 4 - c
    mould = Mould(style).piece(box((-h, front, 0), (h, back, PLATE)))
    mould.piece(box((-h, front, 0), (h, -4, 8 - c)))
    mould.hollow((-h + WALL, -2.5, -1), (h - WALL, 2.5, 2.0)).stud(on_top(nx, 1, PLATE))
    return mould.stud([(x, front, 4) for x, _ in grid(nx, 1)], -Y)


def side(style, sides, nx):
    """A brick one stud deep with studs on 1, 2 opposite or 4 of its sides."""
    mould = moulded(style, nx, 1, BRICK)
    h, half = nx * 4 - style.clearance, 4 - style.clearance
    mould.stud([(x, -half, 4.0) for x, _ in grid(nx, 1)], -Y)
    if sides > 1:
        mould.stud([(x, half, 4.0) for x, _ in grid(nx, 1)], Y)
    if sides > 2:
        mould.stud([(-h, 0, 4.0)], -X).stud([(h, 0, 4.0)], X)
    return mould


# Hinges, bars, balls, pins.


def hinge(style, nx, odd_ones):
    """Half a hinge: a plate whose fingers lie around an axis along x at y = 0, z = 1.6; the plate lies at +y."""
    c, h, n = style.clearance, nx * 4, 2 * nx + 1
    radius, start = PLATE / 2, 2.0
    mould = Mould(style).piece(box((-h + c, start, 0), (h - c, start + 8 - c, PLATE)))
    knuckle = moved(circle(radius, style.facets), 0, radius)
    profile = np.concatenate([knuckle, [(start + 1, 0), (start + 1, PLATE)]])
    for i in range(odd_ones, n, 2):
        x0, x1 = -h + 2 * h * i / n + c, -h + 2 * h * (i + 1) / n - c
        corners = moved(drawn(profile, 0.5 * (x1 - x0)), 0.5 * (x0 + x1), 0, 0)
        mould.piece(corners)
    return mould.stud([(x, start + 4, PLATE) for x, _ in grid(nx, 1)])


def bar(style, length):
    """A rod along z, its origin in its middle."""
    half = length * 4
    return Mould(style).piece(column(circle(BAR_RADIUS, style.facets), -half, half))


CLIP_AT = np.array([0, -6.6, 1.6])


def clip(style):
    """A plate of one stud with a clip at its front that opens to -y; a bar along x goes through it."""
    mould, c = moulded(style, 1, 1, PLATE), style.clearance
    for quad in ring(BAR_RADIUS + c / 2, 2.6, max(style.facets // 2, 6), -np.pi / 4, 1.5 * np.pi):
        mould.piece(drawn(quad + CLIP_AT[1:], 1.5))
    return mould.piece(box((-1.5, -4.9, 0.6), (1.5, -3.0, 2.6)))


BALL_AT = np.array([0, -10.0, 1.6])


def ball(style):
    """A plate of one stud with a ball on a neck."""
    mould, facets = moulded(style, 1, 1, PLATE), max(style.facets // 2, 8)
    polar = np.linspace(0, np.pi, facets // 2 + 1)[1:-1]
    rings = [np.c_[circle(BALL_RADIUS * np.sin(t), facets), np.full(facets, BALL_RADIUS * np.cos(t))] for t in polar]
    sphere = np.concatenate([*rings, [(0, 0, BALL_RADIUS), (0, 0, -BALL_RADIUS)]])
    mould.piece(sphere + BALL_AT)
    neck = circle(1.2, facets)
    return mould.piece(np.concatenate([np.c_[neck[:, 0], np.full(facets, y), neck[:, 1] + 1.6] for y in (-9, -3)]))


def socket(style):
    """A plate of one stud with a cup at its front, open to -y, for a ball whose neck comes from there."""
    mould = moulded(style, 1, 1, PLATE)
    inner, outer, cells = BALL_RADIUS + style.clearance / 2, 3.6, 8
    polar, turn = np.radians([0.01, 35, 70, 105]), np.linspace(0, 2 * np.pi, cells + 1)
    inner /= np.cos(np.radians(17.5)) * np.cos(np.pi / cells)
    for t0, t1 in pairwise(polar):
        for a0, a1 in pairwise(turn):
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
        mould.piece(drawn(moved(quad, x, z), half_y)[:, [1, 0, 2]], meshed=False)
    hole = moved(circle(HOLE_RADIUS / np.cos(np.pi / facets), facets), x, z)
    mould.hollows.append(hull(drawn(hole, half_y + 1)[:, [1, 0, 2]]))


def holed(style, nx):
    """A brick one stud deep with pin holes along y between its studs."""
    h, half = nx * 4 - style.clearance, 4 - style.clearance
    mould, sill = Mould(style), 2 * HOLE_AT - BRICK
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


def beam(style, nx):
    """A beam without studs, a pin hole along y at each pitch; its origin on their line."""
    c, mould = style.clearance, Mould(style)
    half, end = 4 - c, nx * 4 - c
    mould.outside.append(box((-end, -half, -half), (end, half, half)))
    for n, (x, _) in enumerate(grid(nx, 1)):
        _bored(mould, x, 0, 4 - c, half, half)
        if n and c:
            mould.piece(box((x - 4 - c, -half, -half), (x - 4 + c, half, half)), meshed=False)
    return mould


def pin(style):
    """A pin along y through two holes, its ends chamfered."""
    ends, radius = 7.8, PIN_RADIUS + (0.05 if style.clearance == 0 else 0.0)
    rings = [(circle(radius - 0.3, style.facets), ends), (circle(radius, style.facets), ends - 0.6)]
    corners = [np.c_[r[:, 0], np.full(len(r), s * y), r[:, 1]] for r, y in rings for s in (-1, 1)]
    return Mould(style).piece(np.concatenate(corners))
