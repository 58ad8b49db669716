"""Walls and posts dressed to the side."""

import numpy as np

from .laying import FORWARD, Laid, about, at, cut, ground, on_front, run, set_on
from .solids import BRICK, FLANGE, PITCH, PLATE, X, Y, Z


def bracketed(_):
    """A bracket on a brick of two by two, and a plate and a tile on its side studs."""
    yield at("brick-2-2", 1, 1, 0)
    yield at("bracket-2", 1, 0.5, BRICK)
    front, z = -FLANGE, BRICK + PLATE - 4
    yield on_front("plate-2-1", PITCH, front, z)
    yield on_front("tile-2-1", PITCH, front - PLATE, z)
    yield at("brick-2-2", 1, 1, BRICK + PLATE)


def tiled(_):
    """A brick of one stud with a tile on the stud of its side."""
    yield at("plate-2-1", 1, 0.5, -PLATE)
    yield at("side-1-1", 0.5, 0.5, 0)
    yield on_front("tile-1-1", PITCH / 2, 0, 4)
    yield at("brick-1-1", 0.5, 0.5, BRICK)


def facade(rng, nx: int = 4, courses: int = 2):
    """A wall of bricks with studs to the front, dressed in plates and tiles."""
    yield from ground(nx, 1)
    high = 0.0
    for _ in range(courses):
        for i in range(nx):
            yield at("side-1-1", i + 0.5, 0.5, high)
        for start, n in cut(rng, nx, (1, 2, 3)):
            x = (start + n / 2) * PITCH
            yield on_front(f"plate-{n}-1", x, 0, high + 4)
            yield on_front(f"{rng.choice(['tile', 'plate'])}-{n}-1", x, -PLATE, high + 4)
        high += BRICK
    yield from run(rng, 0, nx, 0.5, high, "plate")


def brackets(rng, n: int = 3):
    """Brackets that hang and brackets that stand, with plates, tiles and rounds clicked on sideways."""
    yield from ground(2 * n, 3)
    for i in range(n):
        x, front = 2 * i + 1, 2 * PITCH - FLANGE
        yield at("brick-2-1", x, 2.5, 0)
        yield at("bracket-2", x, 2.5, BRICK)
        yield on_front("plate-2-1", x * PITCH, front, BRICK + PLATE - 4)
        if rng.random() < 0.5:
            yield on_front("tile-2-1", x * PITCH, front - PLATE, BRICK + PLATE - 4)
        else:
            yield on_front("round-1", x * PITCH - 4, front - PLATE, BRICK + PLATE - 4)
            yield on_front("cone", x * PITCH + 4, front - PLATE, BRICK + PLATE - 4)
        yield at("riser-2", x, 2.5, BRICK + PLATE)
        yield at("brick-2-1", x, 2.5, BRICK + 2 * PLATE)
        yield on_front(str(rng.choice(["tile-2-1", "plate-2-1"])), x * PITCH, front, BRICK + PLATE + 4)


def stars(rng, n: int = 2, high: int = 2):
    """Posts with studs on all four sides and something on each of them."""
    yield from ground(4 * n, 4 * n)
    for x in range(n):
        for y in range(n):
            middle = np.array([4 * x + 1.5, 4 * y + 1.5, 0])
            yield at("round-3", *middle[:2], 0)
            for k in range(1, high + 1):
                yield at("side-4-1", *middle[:2], k * BRICK)
                for quarter in range(4):
                    turn = np.round(about(Z, 90 * quarter))
                    kind = str(rng.choice(["plate-1-1", "tile-1-1", "round-1"]))
                    yield Laid(kind, turn @ FORWARD, middle * PITCH + (k * BRICK + 4) * Z - turn @ Y * 4)
            yield at("tile-1-1", *middle[:2], (high + 1) * BRICK)


def slabs(rng, nx: int = 4, courses: int = 2):
    """A wall dressed on both sides, on its long and on its short bricks."""
    yield from ground(nx, 1)
    behind = np.round(about(Z, 180))
    for k in range(courses):
        z = k * BRICK
        for x in range(0, nx, 2):
            if rng.random() < 0.5:
                yield at("side-2-2", x + 1, 0.5, z)
            else:
                yield from (at("side-2-1", x + n + 0.5, 0.5, z) for n in range(2))
        for start, n in cut(rng, nx, (1, 2, 3)):
            x = (start + n / 2) * PITCH
            yield on_front(f"plate-{n}-1", x, 0, z + 4)
            yield set_on(on_front(f"{rng.choice(['tile', 'plate'])}-{n}-1", -x, -PITCH, z + 4), behind, 0 * X)
    yield from run(rng, 0, nx, 0.5, courses * BRICK, "tile")
