"""How bricks are laid: at pitches and quarters, on a front, in rows, in a frame of their own."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from .solids import PITCH, PLATE, X, Z


@dataclass(frozen=True)
class Laid:
    """A brick: its part, its axes in the build's (columns; mirrored where it is) and where its origin lies, mm."""

    part: str
    turn: np.ndarray
    at: np.ndarray


def about(axis: np.ndarray, degrees: float) -> np.ndarray:
    return Rotation.from_rotvec(np.radians(degrees) * axis).as_matrix()


def at(part: str, x: float, y: float, z: float, quarter: int = 0) -> Laid:
    """A brick at pitches from the corner, mm from the floor, turned by quarters around the upright axis."""
    return Laid(part, np.round(about(Z, 90 * quarter)), np.array([x * PITCH, y * PITCH, z]))


def set_on(laid: Laid, turn: np.ndarray, place) -> Laid:
    """What was laid in a frame of its own, mm, laid in another."""
    return Laid(laid.part, turn @ laid.turn, turn @ laid.at + place)


def lying(laid, turn: np.ndarray) -> list[Laid]:
    return [set_on(brick, turn, 0 * X) for brick in laid]


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


def cut(rng, length: int, sizes) -> Iterator[tuple[int, int]]:
    start = 0
    while start < length:
        n = int(rng.choice([n for n in sizes if n <= length - start]))
        yield start, n
        start += n
