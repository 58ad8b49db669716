"""Sixty builds of odd parts, unlike each other, each laid by a seeded hand; all of them sound, unless they say so."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.spatial.transform import Rotation

from addon.core import draws
from addon.core.bricks import Bricks
from addon.core.parts import measured

from . import parts
from .parts import BRICK, PITCH, PLATE, Style, X, Y, Z, odd


@dataclass(frozen=True)
class Laid:
    """A brick: its part, its axes in the build's (columns; mirrored where it is) and where its origin lies, mm."""

    part: str
    turn: np.ndarray
    at: np.ndarray


@dataclass(frozen=True)
class Build:
    """What is laid, and how the program that exports it models."""

    name: str
    style: Style
    laid: tuple[Laid, ...] = field(repr=False)
    overlaps: bool = False  # whether bricks lie in each other in the export

    def __len__(self) -> int:
        return len(self.laid)

    def bricks(self) -> Bricks:
        """The table of bricks, parts measured by the tool itself."""
        names = list(dict.fromkeys(brick.part for brick in self.laid))
        made = tuple(measured(odd(name, self.style).vertices, odd(name, self.style).triangles) for name in names)
        kind = np.array([names.index(brick.part) for brick in self.laid])
        turn, at = np.array([brick.turn for brick in self.laid]), np.array([brick.at for brick in self.laid])
        called = tuple(f"{brick.part} {n}" for n, brick in enumerate(self.laid))
        return Bricks(called, made, kind, turn, at, draws.mixed(np.arange(len(self), dtype=np.uint64)))


def about(axis: np.ndarray, degrees: float) -> np.ndarray:
    return Rotation.from_rotvec(np.radians(degrees) * axis).as_matrix()


def at(part: str, x: float, y: float, z: float, quarter: int = 0) -> Laid:
    """A brick at pitches from the corner, mm from the floor, turned by quarters around the upright axis."""
    return Laid(part, np.round(about(Z, 90 * quarter)), np.array([x * PITCH, y * PITCH, z]))


def set_on(laid: Laid, turn: np.ndarray, place) -> Laid:
    """What was laid in a frame of its own, mm, laid in another."""
    return Laid(laid.part, turn @ laid.turn, turn @ laid.at + place)


FORWARD = np.round(about(X, 90))  # what was up points to -y


def on_front(part: str, x: float, front: float, z: float) -> Laid:
    """A part whose seat lies on a face that looks to -y, the middle of the seat there; mm."""
    return Laid(part, FORWARD, np.array([x, front, z]))


def ground(nx: int, ny: int, z: float = -PLATE) -> Iterator[Laid]:
    """Plates of at most eight by eight under everything from the corner on."""
    for x in range(0, nx, 8):
        for y in range(0, ny, 8):
            w, d = min(8, nx - x), min(8, ny - y)
            yield at(f"plate-{w}-{d}", x + w / 2, y + d / 2, z)


def run(rng, start: int, stop: int, y: float, z: float, kind: str = "brick", deep: int = 1, upright: bool = False):
    """A row along x (or along y, where `upright`) of bricks of any lengths."""
    while start < stop:
        length = int(rng.choice([n for n in (1, 2, 3, 4) if n <= stop - start]))
        middle = start + length / 2
        yield at(f"{kind}-{length}-{deep}", *((y, middle) if upright else (middle, y)), z, int(upright))
        start += length


# Roofs.


def gable(rng, angle: int = 45, length: int = 6, courses: int = 2, tall: bool = False):
    """Slopes that face each other, course on course, with bricks between, and a ridge on them."""
    depth, height, *_ = parts._fall(angle)
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
        for n in range(int(round(height / BRICK))):
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
        for start, n in _cut(rng, inner, (1, 2, 3)):
            yield at(f"slope-45-{n}", low + 2 + start + n / 2, low + 1, z)
            yield at(f"slope-45-{n}", low + 2 + start + n / 2, high - 1, z, 2)
            yield at(f"slope-45-{n}", low + 1, low + 2 + start + n / 2, z, 3)
            yield at(f"slope-45-{n}", high - 1, low + 2 + start + n / 2, z, 1)
        for y in range(low + 2, high - 2):
            yield from run(rng, low + 2, high - 2, y + 0.5, z)


def _cut(rng, length: int, sizes) -> Iterator[tuple[int, int]]:
    start = 0
    while start < length:
        n = int(rng.choice([n for n in sizes if n <= length - start]))
        yield start, n
        start += n


def bay(rng, arm: int = 4):
    """Two roofs that meet in a valley: slopes along x and along y, and what stands in their inner corner."""
    side = arm + 2
    yield from ground(side, side)
    yield at("valley", arm + 1, arm + 1, 0)
    for start, n in _cut(rng, arm, (1, 2)):
        yield at(f"slope-45-{n}", start + n / 2, arm + 1, 0)
        yield at(f"slope-45-{n}", arm + 1, start + n / 2, 0, 3)
    yield from run(rng, 0, side, side - 0.5, BRICK)
    yield from run(rng, 0, side - 1, side - 0.5, BRICK, upright=True)


def overhang(rng, angle: int = 45, n: int = 2):
    """A shaft that widens on inverted slopes to both sides, with slopes back to a shaft above."""
    depth, height, *_ = parts._fall(angle)
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


# Wings.


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


# Round ones.


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


# Sideways.


def facade(rng, nx: int = 4, courses: int = 2):
    """A wall of bricks with studs to the front, dressed in plates and tiles."""
    yield from ground(nx, 1)
    high = 0.0
    for _ in range(courses):
        for i in range(nx):
            yield at("side-1-1", i + 0.5, 0.5, high)
        for start, n in _cut(rng, nx, (1, 2, 3)):
            x = (start + n / 2) * PITCH
            yield on_front(f"plate-{n}-1", x, 0, high + 4)
            yield on_front(f"{rng.choice(['tile', 'plate'])}-{n}-1", x, -PLATE, high + 4)
        high += BRICK
    yield from run(rng, 0, nx, 0.5, high, "plate")


def brackets(rng, n: int = 3):
    """Brackets that hang and brackets that stand, with plates, tiles and rounds clicked on sideways."""
    yield from ground(2 * n, 3)
    for i in range(n):
        x, front = 2 * i + 1, 2 * PITCH - parts.FLANGE
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


def offsets(rng, n: int = 5, courses: int = 3):
    """Courses of bricks, each half a stud off those below, on jumpers."""
    yield from ground(2 * n, 2)
    for i in range(n):
        yield at("jumper-2", 2 * i + 1, 1, 0)
    start, z = 0.5, PLATE
    for k in range(courses):
        length = 2 * (n - k) - 1
        for first, m in _cut(rng, length, (1, 2, 3, 4)):
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
        for start, m in _cut(rng, 2 * n - 1, (1, 2, 3)):
            yield at(f"plate-{m}-1", 0.5 + start + m / 2, y, PLATE)
        for start, m in _cut(rng, 2 * n - 1, (1, 2, 3)):
            yield at(f"brick-{m}-1", 0.5 + start + m / 2, y, 2 * PLATE)


# Openings.


def arcade(rng, n: int = 2, kind: str = "bow", wide: int = 4):
    """Arches in a row, on posts, with a wall on top; two storeys."""
    yield from ground(n * wide, 1)
    z = 0.0
    for _ in range(2):
        for i in range(n):
            for x in (wide * i + 0.5, wide * (i + 1) - 0.5):
                yield at("brick-1-1", x, 0.5, z)
            yield at(f"{kind}-{wide}", wide * (i + 0.5), 0.5, z + BRICK)
        for start, m in _cut(rng, n * wide, (1, 2, 3, 4)):
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
        for start, n in _cut(rng, nx, (1, 2, 3)):
            x = (start + n / 2) * PITCH
            yield on_front(f"plate-{n}-1", x, 0, z + 4)
            yield set_on(on_front(f"{rng.choice(['tile', 'plate'])}-{n}-1", -x, -PITCH, z + 4), behind, 0 * X)
    yield from run(rng, 0, nx, 0.5, courses * BRICK, "tile")


# Hinges, bars, balls and pins.


def hinged(axis, degrees: float, nx: int = 1, way: int = 1) -> Laid:
    """The other half of a hinge: from an axis along x at a place (3,), up by some degrees; towards -y or +y."""
    turn = about(X, -way * degrees) @ (np.round(about(Z, 180)) if way > 0 else np.eye(3))
    return Laid(f"hinge-{nx}-1", turn, np.asarray(axis, dtype=float) - turn @ (parts.PLATE / 2 * Z))


def doors(rng, n: int = 4, nx: int = 1):
    """Hinges side by side, each open by another angle, with plates and tiles on their leaves."""
    yield from ground(n * nx, 1)
    for i in range(n):
        x = (i + 0.5) * nx
        yield at(f"hinge-{nx}-0", x, -2 / PITCH, 0)
        leaf = hinged((x * PITCH, -2, PLATE / 2), rng.uniform(-50, 40), nx)
        yield leaf
        on_it = Laid(f"{rng.choice(['tile', 'plate'])}-{nx}-1", np.eye(3), np.array([0, 6, PLATE]))
        yield set_on(on_it, leaf.turn, leaf.at)
    yield from run(rng, 0, n * nx, 0.5, PLATE)


def folds(rng, n: int = 3, leaves: int = 3):
    """Strips of hinge on hinge that curl up."""
    yield from ground(2 * n, 1)
    for i in range(n):
        x = 2 * i + 0.5
        yield at("hinge-1-0", x, -2 / PITCH, 0)
        yield at("brick-1-1", x, 0.5, PLATE)
        leaf = hinged((x * PITCH, -2, PLATE / 2), rng.uniform(5, 35))
        yield leaf
        for _ in range(leaves - 1):
            yield set_on(Laid("hinge-1-0", np.round(about(Z, 180)), np.array([0, 12, PLATE])), leaf.turn, leaf.at)
            after = hinged((0, 12, 1.5 * PLATE), rng.uniform(5, 35), 1, -1)
            leaf = set_on(after, leaf.turn, leaf.at)
            yield leaf
        yield set_on(Laid("tile-1-1", np.eye(3), np.array([0, 6, PLATE])), leaf.turn, leaf.at)


def rails(rng, n: int = 6):
    """Rods through clips along the front and the back of a wall."""
    yield from ground(n, 1)
    yield from run(rng, 0, n, 0.5, 0)
    for i in range(n):
        if i % 3 < 2:
            yield at("clip", i + 0.5, 0.5, BRICK, 2 * (i % 3))
        else:
            yield at("plate-1-1", i + 0.5, 0.5, BRICK)
    along = np.round(about(Y, 90))
    for sign in (-1, 1):
        y = 0.5 * PITCH - sign * parts.CLIP_AT[1]
        yield Laid(f"bar-{n}", along, np.array([n * PITCH / 2, y, BRICK + parts.CLIP_AT[2]]))
    yield from run(rng, 0, n, 0.5, BRICK + PLATE, "plate")


def masts(rng, n: int = 2, high: int = 3):
    """Upright rods through clips on the sides of posts."""
    yield from ground(3 * n, 1)
    for i in range(n):
        x = 3 * i + 2.5
        turn = np.round(about(Y, 90)) @ FORWARD
        levels = high + int(rng.integers(0, 2))
        for k in range(levels):
            yield at("side-1-1", x, 0.5, k * BRICK)
            yield on_front("plate-1-1", x * PITCH, 0, k * BRICK + 4)
            yield Laid("clip", turn, np.array([x * PITCH, -PLATE, k * BRICK + 4]))
        clip = turn @ parts.CLIP_AT + (x * PITCH, -PLATE, 0)
        yield Laid(f"bar-{2 * levels}", np.eye(3), np.array([clip[0], clip[1], levels * BRICK / 2]))
        yield at("tile-1-1", x, 0.5, levels * BRICK)


def arms(rng, n: int = 3, joints: int = 2):
    """Balls in sockets, arm on arm, each at an angle of its own."""
    yield from ground(3 * n, 1)
    back = np.round(about(Z, 180))
    for i in range(n):
        x = 3 * i + 0.5
        yield at("brick-1-1", x, 0.5, 0)
        held = at("socket", x, 0.5, BRICK)
        yield held
        yield at("tile-1-1", x, 0.5, BRICK + PLATE)
        for k in range(joints):
            axis = rng.normal(size=3)
            turn = held.turn @ about(axis / np.linalg.norm(axis), rng.uniform(5, 15)) @ back
            ball = Laid("ball", turn, held.at + held.turn @ parts.SOCKET_AT - turn @ parts.BALL_AT)
            yield ball
            last = k == joints - 1
            held = set_on(Laid("tile-1-1" if last else "socket", back, PLATE * Z), ball.turn, ball.at)
            yield held


def pinned(place, degrees: float, nx: int, hole: int) -> Laid:
    """A beam whose hole lies at a place, turned around it."""
    turn = about(Y, degrees)
    return Laid(f"beam-{nx}", turn, np.asarray(place, dtype=float) - turn @ ((hole - (nx - 1) / 2) * PITCH * X))


def crane(rng, n: int = 2):
    """Beams on both sides of bricks with holes, each on its pin."""
    yield from (set_on(plate, np.eye(3), PITCH * Y) for plate in ground(7 * n, 1))
    for i in range(n):
        x = 7 * i + 3.5
        yield at("brick-3-1", x, 1.5, 0)
        yield at("holed-3", x, 1.5, BRICK)
        yield at("plate-3-1", x, 1.5, 2 * BRICK)
        for sign, hole in ((-1, -0.5), (1, 0.5)):
            place = np.array([(x + hole) * PITCH, (1.5 + sign) * PITCH, BRICK + parts.HOLE_AT])
            yield Laid("pin", np.eye(3), place - sign * PITCH / 2 * Y)
            yield pinned(place, rng.uniform(-60, 60), int(rng.choice([3, 5])), 0 if hole < 0 else 1)


def linkage(rng, n: int = 5):
    """A chain of beams that zigzags, end on end on pins, on a brick with holes."""
    yield from ground(3, 1)
    yield at("brick-3-1", 1.5, 0.5, 0)
    yield at("holed-3", 1.5, 0.5, BRICK)
    place = np.array([PITCH, 0.5 * PITCH, BRICK + parts.HOLE_AT])
    side, degrees = 1, 0.0
    for k in range(n):
        degrees = rng.uniform(40, 70) * (1 if k % 2 else -1) - 90
        yield Laid("pin", np.eye(3), place + side * PITCH / 2 * Y)
        place = place + side * PITCH * Y
        beam = pinned(place, degrees, 3, 0)
        yield beam
        place = place + about(Y, degrees) @ (2 * PITCH * X)
        side = 1 if k == 0 else (-1 if side > 0 else 1)


# Around others.


def terraces(rng, apart: float = 300.0):
    """Roofs on two grounds of different heights, a bridge from one to another, and a brick far below."""
    yield from gable(rng, 45, 4, 1)
    lower = list(hips(rng, 6, 1))
    yield from (set_on(brick, np.eye(3), np.array([160.0, 0, -apart])) for brick in lower)
    for x, z in ((8, 0), (14, BRICK)):
        yield from (set_on(brick, np.eye(3), np.array([x * PITCH, 80.0, z])) for brick in ground(4, 2))
    yield at("brick-2-2", 11, 11, 0)
    yield at("plate-6-2", 13, 11, BRICK)
    yield at("brick-2-2", -6, -6, -2 * apart)


def street(rng):
    """A bit of everything, plot beside plot."""
    plots = (gable, facade, posts, arcade, stars, doors)
    for n, recipe in enumerate(plots):
        small = {posts: dict(n=2, high=2), stars: dict(n=1), gable: dict(length=4, courses=1)}.get(recipe, {})
        for brick in recipe(rng, **small):
            yield set_on(brick, np.eye(3), np.array([(n % 3) * 12 * PITCH, (n // 3) * 12 * PITCH, 0]))


def twins(rng, recipe: Callable, **numbers):
    """A section and its mirror image, wall to wall."""
    section = list(recipe(rng, **numbers))
    yield from section
    yield from lying(section, np.diag([-1.0, 1, 1]))


def keel(rng, recipe: Callable, deep: int, **numbers):
    """A section so many studs deep and another on its head below it, seat to seat."""
    yield from recipe(rng, **numbers)
    below = lying(recipe(rng, **numbers), np.diag([1.0, -1, -1]))
    yield from (set_on(brick, np.eye(3), np.array([0, deep * PITCH, -2 * PLATE])) for brick in below)


def lying(laid, turn: np.ndarray) -> list[Laid]:
    return [set_on(brick, turn, 0 * X) for brick in laid]


def squeezed(rng, recipe: Callable, share: float, **numbers):
    """Bricks that all stand a little closer than they are large."""
    for brick in recipe(rng, **numbers):
        yield replace(brick, at=brick.at * (1 - share))


SIDE = np.round(about(X, 90))
HEAD = np.diag([1.0, -1, -1])
MIRRORED = np.diag([-1.0, 1, 1])
ASKEW = about(np.array([0.6, -0.36, 0.7141]) / np.linalg.norm([0.6, -0.36, 0.7141]), 77.0)
TURNED = about(Z, 31.0)
TALL = about(Y, -90.0)

_RECIPES: dict[str, tuple] = {
    "gable-45": (gable, dict(angle=45), Style(0.0, 16)),
    "gable-33": (gable, dict(angle=33, length=4), Style(0.1, 16)),
    "gable-25": (gable, dict(angle=25, length=5, courses=1), Style(0.0, 24)),
    "gable-65": (gable, dict(angle=65, length=4), Style(0.1, 12)),
    "hips": (hips, dict(), Style(0.0, 16)),
    "bay": (bay, dict(), Style(0.1, 16)),
    "overhang-45": (overhang, dict(), Style(0.0, 16)),
    "overhang-33": (overhang, dict(angle=33, n=3), Style(0.1, 32)),
    "wings": (wings, dict(), Style(0.0, 16)),
    "scarf": (scarf, dict(), Style(0.0, 16)),
    "arrows": (arrows, dict(), Style(0.1, 16)),
    "kites": (kites, dict(), Style(0.0, 16)),
    "posts": (posts, dict(), Style(0.0, 16)),
    "fence": (fence, dict(), Style(0.1, 24)),
    "drums": (drums, dict(), Style(0.0, 40)),
    "steeples": (steeples, dict(), Style(0.0, 32)),
    "rounds": (rounds, dict(), Style(0.0, 16)),
    "facade": (facade, dict(), Style(0.0, 16)),
    "brackets": (brackets, dict(), Style(0.1, 16)),
    "stars": (stars, dict(), Style(0.0, 8)),
    "offsets": (offsets, dict(), Style(0.1, 16)),
    "offset-plates": (offset_plates, dict(), Style(0.0, 16)),
    "arcade-bow": (arcade, dict(), Style(0.1, 16)),
    "arcade-gate": (arcade, dict(kind="gate", wide=3), Style(0.0, 16)),
    "panels": (panels, dict(), Style(0.1, 16)),
    "angles": (angles, dict(), Style(0.0, 16)),
    "slabs": (slabs, dict(), Style(0.1, 12)),
    "doors": (doors, dict(), Style(0.0, 16)),
    "doors-wide": (doors, dict(n=3, nx=2), Style(0.1, 24)),
    "folds": (folds, dict(), Style(0.1, 12)),
    "rails": (rails, dict(), Style(0.1, 16)),
    "rails-tight": (rails, dict(n=9), Style(0.0, 12)),
    "masts": (masts, dict(), Style(0.1, 24)),
    "arms": (arms, dict(), Style(0.1, 16)),
    "arms-tight": (arms, dict(n=2, joints=3), Style(0.0, 24)),
    "crane": (crane, dict(), Style(0.1, 16)),
    "linkage": (linkage, dict(), Style(0.0, 16)),
    "terraces": (terraces, dict(), Style(0.0, 16)),
    "street": (street, dict(), Style(0.1, 16)),
    # As above, otherwise dressed, lying as a scene may hold them.
    "gable-lying": (gable, dict(angle=45, length=5), Style(0.1, 8), SIDE),
    "gable-long": (gable, dict(angle=45, length=12, courses=3, tall=True), Style(0.0, 8)),
    "hips-turned": (hips, dict(side=10, courses=2), Style(0.1, 12), TURNED),
    "bay-mirrored": (bay, dict(arm=6), Style(0.0, 24), MIRRORED),
    "overhang-head": (overhang, dict(angle=25, n=2), Style(0.1, 16), HEAD),
    "wings-mirrored": (wings, dict(length=6, layers=4), Style(0.1, 16), MIRRORED),
    "scarf-askew": (scarf, dict(length=6), Style(0.1, 16), ASKEW),
    "posts-head": (posts, dict(n=5, high=4), Style(0.1, 12), HEAD),
    "drums-lying": (drums, dict(high=1), Style(0.1, 16), SIDE),
    "facade-lying": (facade, dict(nx=6, courses=4), Style(0.1, 16), SIDE),
    "facade-askew": (facade, dict(nx=3), Style(0.0, 48, False), ASKEW),
    "brackets-tall": (brackets, dict(n=5), Style(0.0, 16), TALL),
    "stars-turned": (stars, dict(n=2, high=3), Style(0.1, 16), TURNED),
    "arcade-head": (arcade, dict(n=3), Style(0.0, 24), HEAD),
    "twins-rounds": (twins, dict(recipe=rounds, courses=2), Style(0.1, 32)),
    "twins-brackets": (twins, dict(recipe=brackets, n=2), Style(0.0, 16)),
    "keel-gable": (keel, dict(recipe=gable, deep=4, length=4, courses=1), Style(0.0, 16)),
    # Whose neighbours lie in each other.
    "tight-gable": (gable, dict(length=4), Style(-0.01, 16), None, True),
    "tight-wings": (wings, dict(), Style(-0.05, 16), None, True),
    "tight-offsets": (offsets, dict(), Style(-0.15, 16), None, True),
    "squeezed": (squeezed, dict(recipe=overhang, share=0.0025), Style(0.0, 16), None, True),
    "squeezed-facade": (squeezed, dict(recipe=facade, share=0.006), Style(0.0, 16), None, True),
}  # fmt: skip
NAMES = tuple(_RECIPES)


def build(name: str) -> Build:
    """One of them; the seed of its hand is told by its name."""
    recipe, numbers, style, *rest = _RECIPES[name]
    pose, overlaps = (*rest, *(None, False)[len(rest) :])
    laid = list(recipe(np.random.default_rng(list(name.encode())), **numbers))
    return Build(name, style, tuple(laid if pose is None else lying(laid, pose)), overlaps)
