"""A build that no one knows: a harbour workshop with a crane, its sizes, shapes and colours unlike the lighthouse's.

Every plot of about 120 bricks is laid by a seeded hand; a larger build is many plots side by side.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .parts import GROUND, PITCH, PLATE, STUD_HEIGHT, X, Y, Z

SIDE, APART = 16, 20  # studs: a plot's side, and from one plot to the next
LENGTHS = (1, 2, 3, 4, 6)

# sRGB and opacity
COLOURS = {
    "teal": (0.05, 0.42, 0.45, 1.0),
    "mustard": (0.80, 0.58, 0.10, 1.0),
    "rust": (0.55, 0.20, 0.10, 1.0),
    "cream": (0.90, 0.86, 0.72, 1.0),
    "slate": (0.25, 0.29, 0.33, 1.0),
    "moss": (0.36, 0.45, 0.18, 1.0),
    "smoke": (0.62, 0.60, 0.66, 0.45),
    "amber": (0.95, 0.48, 0.05, 0.5),
    "printed": (1.0, 1.0, 1.0, 1.0),  # its colours are its picture's
}


@dataclass(frozen=True)
class Placed:
    """A brick: which part and colour, its axes in the build's (columns) and where its origin lies, mm."""

    part: str
    colour: str
    turn: np.ndarray  # (3, 3)
    at: np.ndarray  # (3,)


def about(axis: np.ndarray, degrees: float) -> np.ndarray:
    """The rotation around a unit axis."""
    x, y, z = axis
    skew = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = np.radians(degrees)
    return np.eye(3) + np.sin(angle) * skew + (1 - np.cos(angle)) * skew @ skew


def workshop(count: int = 120, seed: int = 5) -> list[Placed]:
    """The first `count` bricks of as many plots as it takes."""
    laid: list[Placed] = []
    rng = np.random.default_rng(seed)
    while len(laid) < count:
        laid += _plot(rng)
    plots = np.cumsum([brick.part == "plate-8-8" for brick in laid]) // 4.001
    across = int(np.ceil(np.sqrt(plots.max() + 1)))
    shift = PITCH * APART * np.stack([plots % across, plots // across, 0 * plots], axis=1)
    return [Placed(b.part, b.colour, b.turn, b.at + by) for b, by in zip(laid[:count], shift, strict=False)]


def turned(build: Sequence[Placed], degrees: float) -> list[Placed]:
    """The build turned on its ground."""
    turn = about(Z, degrees)
    return [replace(b, turn=turn @ b.turn, at=turn @ b.at) for b in build]


def twice(build: Sequence[Placed]) -> list[Placed]:
    """The build and the same again, beside it and out of step with its studs."""
    return [*build, *(replace(b, at=b.at - 300.3 * Y) for b in build)]


def on_ground(build: Sequence[Placed]) -> list[Placed]:
    """The first plot on one plate of 2,000 studs, thinner than any other."""
    return [*build, Placed("ground-50-40", "cream", np.eye(3), np.array([SIDE, SIDE, 0]) * PITCH / 2 - GROUND * Z)]


def _plot(rng):
    """One workshop on its ground."""
    ground = [_at("plate-8-8", "moss", 8 * i + 4, 8 * j + 4, 0) for i in range(2) for j in range(2)]
    return [*ground, *_crane(rng), *_sideways(rng), *_quay(rng), *_house(rng)]


def _at(part, colour, x, y, plates, turn=0.0, lift=0.0):
    """A brick at pitches from the corner and plates from the floor, turned around the upright axis."""
    return Placed(part, colour, about(Z, turn), np.array([x * PITCH, y * PITCH, plates * PLATE + lift]))


def _house(rng):
    """Walls in bond with a gate and windows, a floor above, a roof of slopes."""
    x0, y0, nx, ny = 1, 6, 9, 8
    for course in range(4):
        colour = ("rust", "cream", "teal", "cream")[course]
        z, odd = 1 + 3 * course, course % 2
        for row in (y0, y0 + ny - 1):
            start, stop = (x0, x0 + nx) if odd else (x0 + 1, x0 + nx - 1)
            if row == y0 and course == 0:  # the gate
                yield from _run(rng, start, x0 + 2, row, z, colour)
                yield from _run(rng, x0 + 8, stop, row, z, colour)
                yield _at("arch-6", "slate", x0 + 5, row + 0.5, z)
            else:
                yield from _run(rng, start, stop, row, z, "smoke" if course == 2 and row != y0 else colour)
        for column in (x0, x0 + nx - 1):
            start, stop = (y0 + 1, y0 + ny - 1) if odd else (y0, y0 + ny)
            yield from _run(rng, start, stop, column, z, colour, along_y=True)
    top = 13
    for i in range(3):
        yield _at("plate-3-8", "slate", x0 + 1.5 + 3 * i, y0 + 4, top)
    for i in range(4):
        yield _at("slope-2-3", "mustard", x0 + 1 + 2 * i, y0 + 1.5, top + 1)
        yield _at("slope-2-3", "mustard", x0 + 1 + 2 * i, y0 + 6.5, top + 1, 180)
    for i in range(3):
        yield _at("brick-3-2", "rust", x0 + 1.5 + 3 * i, y0 + 4, top + 1)
        yield _at("tile-1-2", "slate", x0 + 0.5 + 3 * i, y0 + 4, top + 4)
    for i in range(3):
        yield _at("round", "amber" if i == 2 else "slate", x0 + 7.5, y0 + 3.5, top + 4 + 3 * i)
    yield _at("cone", "rust", x0 + 7.5, y0 + 3.5, top + 13)


def _run(rng, start, stop, row, plates, colour, along_y=False):
    """A row of bricks one stud deep from stud to stud."""
    while start < stop:
        length = int(rng.choice([n for n in LENGTHS if n <= stop - start]))
        middle, across = start + length / 2, row + 0.5
        thin = rng.random() < 0.08
        for n in range(3 if thin else 1):
            kind = "plate" if thin else "brick"
            if along_y:
                yield _at(f"{kind}-{length}-1", colour, across, middle, plates + n, 90)
            else:
                yield _at(f"{kind}-{length}-1", colour, middle, across, plates + n)
        start += length


def _crane(rng):
    """A post of round bricks with beams on pins, and a hatch on a hinge."""
    for i in range(3):
        yield _at("drum", "mustard" if i % 2 else "slate", 13, 12, 1 + 3 * i)
    pivot = np.array([13 * PITCH, 0, 10 * PLATE + 5.8])
    lean = about(Y, -30 - 10 * rng.random())
    for inside, way in ((11.5, -1), (12.5, 1)):
        yield _at("holed-4", "mustard", 13, inside, 10)
        yield Placed("pin", "slate", about(X, 90), pivot + (inside + way / 2) * PITCH * Y)
        yield Placed("beam-5", "teal", lean, pivot + (inside + way) * PITCH * Y + lean @ (2 * PITCH * X))
    yield _at("plate-2-1", "cream", 13, 2.5, 1)
    axis = np.array([12.5 * PITCH, 2 * PITCH - 1, 2 * PLATE])
    open_ = about(Z, 180) @ about(X, 35)
    centre = PLATE / 2 * Z
    yield Placed("hinge", "rust", np.eye(3), axis)
    yield Placed("hinge", "rust", open_, axis + PITCH * X + centre - open_ @ centre)


def _sideways(rng):
    """Brackets and side studs with plates and tiles clicked on sideways."""
    forward = about(X, 90)  # a part's top looks to the front
    for i, (tile, colour) in enumerate((("print-2-1", "printed"), ("tile-2-1", "amber"))):
        x = 2 + 3 * i
        yield _at("brick-2-1", "slate", x, 2.5, 1)
        yield _at("bracket-2", "slate", x, 2.5, 4)
        front = np.array([x * PITCH, 2 * PITCH - 1.6, 4 * PLATE - 1.6])
        yield Placed("plate-2-1", "cream", forward, front)
        yield Placed(tile, colour, forward, front - PLATE * Y)
    yield _at("plate-3-1", "slate", 9.5, 2.5, 1)
    for i in range(3):
        yield _at("side", "teal", 8.5 + i, 2.5, 2)
    front = np.array([9.5 * PITCH, 2 * PITCH, 2 * PLATE + 4])
    yield Placed("plate-3-1", "mustard", forward, front)
    yield Placed("plate-3-1", "rust", forward, front - PLATE * Y)


def _quay(rng):
    """Bricks put down askew, wings, a print, cones."""
    askew = 20 + 20 * rng.random()
    for part, colour, plates, turn in (
        ("brick-2-4", "mustard", 1, askew),
        ("plate-2-4", "cream", 4, askew),
        ("brick-2-2", "rust", 5, askew + 45),
    ):
        lying = STUD_HEIGHT * (1 if plates < 5 else 2)  # on studs, which do not fit at an angle
        yield _at(part, colour, 13.2, 7.6, plates, turn, lying)
    yield _at("wing-0", "teal", 13.5, 15, 1)
    yield _at("wing-1", "teal", 13.5, 15, 2)
    yield _at("print-2-2", "printed", 6, 1, 1)
    yield _at("cone", "amber", 0.5, 0.5, 1)
    yield _at("cone", "amber", 15.5, 0.5, 1)
    yield _at("round", "smoke", 15.5, 4.5, 1)
