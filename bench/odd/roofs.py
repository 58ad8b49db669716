"""Slopes and wedges: gables, hips, valleys, overhangs, wings."""

from .laying import at, cut, ground, run
from .parts import fall
from .solids import BRICK, PLATE


def gable(rng, angle: int = 45, length: int = 6, courses: int = 2, tall: bool = False):
    """Slopes that face each other, course on course, with bricks between, and a ridge on them."""
    depth, height, *_ = fall(angle)
    step = depth - 1
    span = 2 * (courses * step + 1)
    yield from ground(length, span)
    for k in range(courses):
        z, low, high = k * height, k * step, span - k * step
        x = 0
        while x < length:
            n = int(rng.choice([n for n in (1, 2, 3) if n <= length - x]))
            yield at(f"slope-{angle}-{n}", x + n / 2, low + depth / 2, z)
            yield at(f"slope-{angle}-{n}", x + n / 2, high - depth / 2, z, 2)
            x += n
        for n in range(round(height / BRICK)):
            for y in range(low + depth, high - depth):
                yield from run(rng, 0, length, y + 0.5, z + n * BRICK)
    z, y = courses * height, span / 2
    if tall:
        yield from run(rng, 0, length, y, z, "plate", 2)
        z += PLATE
    x = 0
    while x < length:
        n = int(rng.choice([n for n in (1, 2, 3) if n <= length - x]))
        yield at(f"ridge-{n}", x + n / 2, y, z)
        x += n


def hips(rng, side: int = 8, courses: int = 2):
    """A roof that falls to all four sides, round its corners."""
    yield from ground(side, side)
    for k in range(courses):
        z, low, high = k * BRICK, k, side - k
        for quarter, (x, y) in enumerate(((low, low), (high, low), (high, high), (low, high))):
            sx, sy = (1 if x == low else -1), (1 if y == low else -1)
            yield at("hip", x + sx, y + sy, z, quarter)
        inner = high - low - 4
        for start, n in cut(rng, inner, (1, 2, 3)):
            yield at(f"slope-45-{n}", low + 2 + start + n / 2, low + 1, z)
            yield at(f"slope-45-{n}", low + 2 + start + n / 2, high - 1, z, 2)
            yield at(f"slope-45-{n}", low + 1, low + 2 + start + n / 2, z, 3)
            yield at(f"slope-45-{n}", high - 1, low + 2 + start + n / 2, z, 1)
        for y in range(low + 2, high - 2):
            yield from run(rng, low + 2, high - 2, y + 0.5, z)


def bay(rng, arm: int = 4):
    """Two roofs that meet in a valley: slopes along x and along y, and what stands in their inner corner."""
    side = arm + 2
    yield from ground(side, side)
    yield at("valley", arm + 1, arm + 1, 0)
    for start, n in cut(rng, arm, (1, 2)):
        yield at(f"slope-45-{n}", start + n / 2, arm + 1, 0)
        yield at(f"slope-45-{n}", arm + 1, start + n / 2, 0, 3)
    yield from run(rng, 0, side, side - 0.5, BRICK)
    yield from run(rng, 0, side - 1, side - 0.5, BRICK, upright=True)


def overhang(rng, angle: int = 45, n: int = 2):
    """A shaft that widens on inverted slopes to both sides, with slopes back to a shaft above."""
    depth, height, *_ = fall(angle)
    step = depth - 1
    x = step + 1
    yield from ground(2 * x, n)
    for k in range(3):
        yield at(f"brick-2-{n}", x, n / 2, k * BRICK)
    z = 3 * BRICK
    yield at(f"inverse-{angle}-{n}", x - depth / 2, n / 2, z, 3)
    yield at(f"inverse-{angle}-{n}", x + depth / 2, n / 2, z, 1)
    z += height
    for row in range(n):
        yield from run(rng, 0, 2 * x, row + 0.5, z, "plate")
    z += PLATE
    yield at(f"plate-{2 * x}-{n}", x, n / 2, z)
    z += PLATE
    yield at(f"slope-{angle}-{n}", x - depth / 2, n / 2, z, 3)
    yield at(f"slope-{angle}-{n}", x + depth / 2, n / 2, z, 1)
    yield at(f"brick-2-{n}", x, n / 2, z + height)


def wings(rng, length: int = 4, layers: int = 3):
    """Pairs of left and right wedge plates, seam to seam, between plates that hold them; each further along."""
    yield from ground(2, length + 2 * layers)
    for k in range(layers):
        y, z = length / 2 + 2 * k, 2 * k * PLATE
        yield at(f"wing-{length}-0", 2, y, z, 3)
        yield at(f"wing-{length}-1", 0, y, z, 1)
        yield at(f"plate-2-{length + 2}", 1, y + 1, z + PLATE)
    for n in range(2):
        yield at("tile-1-2", n + 0.5, length + 2 * layers - 1, 2 * layers * PLATE)


def scarf(rng, length: int = 4, rows: int = 2):
    """Wedge plates head to tail, slant against slant, over tiles; held by their straight rows alone."""
    wide = length * rows
    yield from ground(wide, 3, -2 * PLATE)
    for y in (0.5, 2.5):
        yield from run(rng, 0, wide, y, -PLATE, "plate")
    yield from run(rng, 0, wide, 1.5, -PLATE, "tile")
    left = int(rng.integers(2))
    for k in range(rows):
        x = length * (k + 0.5)
        yield at(f"wing-{length}-{left}", x, 1, 0)
        yield at(f"wing-{length}-{left}", x, 2, 0, 2)
    for y in (0.5, 2.5):
        yield from run(rng, 0, wide, y, PLATE, "plate")


def arrows(rng, rows: int = 3):
    """Arrow-shaped bricks side by side, their tips in the air, with a post on each tip, and triangles behind."""
    yield from ground(2 * rows, 2)
    for k in range(rows):
        n = int(rng.choice([3, 4]))
        yield at(f"wedge-{n}", 2 * k + 1, n / 2, 0)
        yield at("round-3" if rng.random() < 0.5 else "round-1", 2 * k + 1, n - 1, BRICK)
    yield from run(rng, 0, 2 * rows, 0.5, BRICK, "plate")


def kites(rng, layers: int = 2):
    """Triangles of plates around a point, and back to back with a row of studs between."""
    yield from ground(16, 8)
    for k in range(layers):
        z = k * PLATE
        for quarter, (x, y) in enumerate(((6, 6), (2, 6), (2, 2), (6, 2))):
            yield at("delta-4", x, y, z, quarter)
        yield at("delta-3", 9.5, 1.5, z)
        yield at("delta-3", 10.5, 2.5, z, 2)
        yield at("delta-4", 10 + 4 * k, 6, z, 3)
