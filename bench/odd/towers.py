"""Rounds, half-stud offsets and openings."""

from .laying import at, cut, ground
from .solids import BRICK, PLATE


def posts(rng, n: int = 4, high: int = 3):
    """Round bricks between the studs of the ground, each on the stud of a jumper, side by side with drums."""
    yield from ground(2 * n, 2 * n)
    for i in range(n):
        for j in range(n):
            x, y, z = 2 * i + 1, 2 * j + 1, PLATE
            yield at("jumper-2", x, y, 0)
            for _ in range(int(rng.integers(1, high + 1))):
                yield at(str(rng.choice(["round-3", "disc-2-3"])), x, y, z)
                z += BRICK
            yield at(str(rng.choice(["cone", "round-1"])), x, y, z)


def fence(rng, n: int = 8, high: int = 3):
    """Round bricks side by side in rows, every second row half a stud further."""
    yield from ground(n + 1, 6)
    for row in range(3):
        shift, y, z = 0.5 * (row % 2), 2 * row + 0.5, 0.0
        if row % 2:
            for i in range(n // 2):
                yield at("jumper-1", 2 * i + 1, y, 0)
            z = PLATE
        for i in range(n // 2 if row % 2 else n):
            top = z
            for _ in range(int(rng.integers(1, high + 1))):
                yield at("round-3", (2 * i + 1) if row % 2 else i + 0.5 + shift, y, top)
                top += BRICK


def drums(rng, high: int = 2):
    """Discs that touch round bricks and drums along the diagonal of a triangle of sides 3, 4 and 5."""
    yield from ground(12, 6)
    yield at("plate-2-2", 3, 3, 0)
    for k in range(3 * high):
        yield at("disc-4", 3, 3, PLATE * (k + 1))
    for x, y, quarter in ((4.5, 5, 1), (1, 4.5, 0), (1.5, 1, 1), (5, 1.5, 0)):
        yield at("jumper-1", x, y, 0, quarter)
        for k in range(int(rng.integers(1, high + 1))):
            yield at("round-3", x, y, PLATE + k * BRICK)
    yield at("plate-1-1", 7.5, 1.5, 0)
    yield at("jumper-1", 9, 3.5, 0)
    for k in range(high):
        yield at("disc-3-3", 7.5, 1.5, PLATE + k * BRICK)
        yield at("disc-2-3", 9, 3.5, PLATE + k * BRICK)


def steeples(rng, n: int = 3):
    """Drums and cones of two studs, tower on tower, on plates between them."""
    yield from ground(2 * n, 4)
    for i in range(n):
        for j in range(2):
            z = 0.0
            yield at("brick-2-2", 2 * i + 1, 2 * j + 1, z)
            z += BRICK
            if rng.random() < 0.5:
                yield at("disc-2-3", 2 * i + 1, 2 * j + 1, z)
                yield at("disc-2", 2 * i + 1, 2 * j + 1, z + BRICK)
            else:
                yield at("steeple", 2 * i + 1, 2 * j + 1, z)
                yield at("cone", 2 * i + 1, 2 * j + 1, z + 2 * BRICK)


def rounds(rng, courses: int = 3):
    """A round tower out of bends, with quarters of discs between the courses."""
    yield from ground(4, 4)
    for k in range(courses):
        z = k * (BRICK + PLATE)
        for quarter, (x, y) in enumerate(((3, 3), (1, 3), (1, 1), (3, 1))):
            yield at("quarter-2", x, y, z, quarter)
        for quarter, (x, y) in enumerate(((3, 3), (1, 3), (1, 1), (3, 1))):
            yield at("bend", x, y, z + PLATE, quarter)
    yield at("disc-4", 2, 2, courses * (BRICK + PLATE))


def offsets(rng, n: int = 5, courses: int = 3):
    """Courses of bricks, each half a stud off those below, on jumpers."""
    yield from ground(2 * n, 2)
    for i in range(n):
        yield at("jumper-2", 2 * i + 1, 1, 0)
    start, z = 0.5, PLATE
    for k in range(courses):
        length = 2 * (n - k) - 1
        for first, m in cut(rng, length, (1, 2, 3, 4)):
            yield at(f"brick-{m}-1", start + first + m / 2, 1, z)
        z += BRICK
        for i in range(n - k - 1):
            yield at("jumper-1", start + 2 * i + 1, 1, z)
        start, z = start + 0.5, z + PLATE


def offset_plates(rng, n: int = 4):
    """Jumpers in a row, and long plates half a stud off on their studs."""
    yield from ground(2 * n + 1, 3)
    for i in range(n):
        yield at("jumper-1", 2 * i + 1, 0.5, 0)
        yield at("jumper-1", 2 * i + 1, 2.5, 0)
        yield at("brick-1-1", 2 * i + 0.5, 1.5, 0)
    for y in (0.5, 2.5):
        for start, m in cut(rng, 2 * n - 1, (1, 2, 3)):
            yield at(f"plate-{m}-1", 0.5 + start + m / 2, y, PLATE)
        for start, m in cut(rng, 2 * n - 1, (1, 2, 3)):
            yield at(f"brick-{m}-1", 0.5 + start + m / 2, y, 2 * PLATE)


def arcade(rng, n: int = 2, kind: str = "bow", wide: int = 4):
    """Arches in a row, on posts, with a wall on top; two storeys."""
    yield from ground(n * wide, 1)
    z = 0.0
    for _ in range(2):
        for i in range(n):
            for x in (wide * i + 0.5, wide * (i + 1) - 0.5):
                yield at("brick-1-1", x, 0.5, z)
            yield at(f"{kind}-{wide}", wide * (i + 0.5), 0.5, z + BRICK)
        for start, m in cut(rng, n * wide, (1, 2, 3, 4)):
            yield at(f"plate-{m}-1", start + m / 2, 0.5, z + 2 * BRICK)
        z += 2 * BRICK + PLATE


def panels(rng, n: int = 3):
    """Thin walls around a room, corner to corner, with posts in it."""
    side = 2 * n + 2
    yield from ground(side, side)
    for i in range(n):
        x = 2 * i + 2
        for quarter, place in enumerate(((x, side - 0.5), (0.5, x), (x, 0.5), (side - 0.5, x))):
            yield at("panel-2", *place, 0, quarter)
    for x in (0.5, side - 0.5):
        for y in (0.5, side - 0.5):
            yield at("brick-1-1", x, y, 0)
            yield at("brick-1-1", x, y, BRICK)
    for i in range(n):
        yield at(str(rng.choice(["round-3", "tile-1-1", "cone"])), 1.5 + i, 2.5 + i, 0)


def angles(rng, n: int = 4):
    """Corner plates, each around another plate, in two layers."""
    yield from ground(3 * n, 3)
    for k in range(2):
        for i in range(n):
            yield at("corner", 3 * i + 1, 1, k * PLATE)
            yield at("plate-1-1", 3 * i + 1.5, 1.5, k * PLATE)
            yield at("tile-1-3" if k or rng.random() < 0.5 else "plate-1-3", 3 * i + 2.5, 1.5, k * PLATE)
