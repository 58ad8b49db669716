"""How open places are to the sky: the share of the light of an even sky, or of dust that falls from all of it, that
gets to them past all that is in the way.

For each of many directions a grid of bits is swept once from the far side: a cell sees the sky that way where the next
cell does and is not full. A place is looked up half a cell away from its surface, on its own ray.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from ... import threads
from ...build.bricks import Pieces
from .grid import Ruler, bit, full, shifted

_RINGS, _FIRST = 9, 5  # of directions from upright to level: each ring is given so many more as its band is wider
_CLEAR = 0.5 + 1e-3  # cells over its surface that a place is looked up,
_FARTHEST = 4.0  # and cells along a ray that grazes it, at most
_ONES = np.uint64(0xFFFFFFFFFFFFFFFF)
_LAYOUTS = {2: (2, 1, 0), 1: (1, 2, 0), 0: (0, 2, 1)}  # axes of layers, rows and runs of the grid swept along each


@dataclass(frozen=True)
class Places:
    """Points on surfaces: P of them."""

    cell: np.ndarray  # (P, 3) in cells
    normal: np.ndarray  # (P, 3) outward, of length 1


def directions() -> tuple[np.ndarray, np.ndarray]:
    """Directions (D, 3) over the upper hemisphere and how much of it (D,) each stands for; bands of equal height have
    equal areas (Archimedes)."""
    way, area = [], []
    for ring in range(_RINGS):
        height = 1.0 - (ring + 0.5) / _RINGS
        number = max(int(round(2.0 * np.pi * np.sqrt(1.0 - height * height) * _RINGS / 3.6)), _FIRST)
        turn = 2.0 * np.pi * (np.arange(number) + (0.5 if ring % 2 else 0.25)) / number
        level = np.sqrt(1.0 - height * height)
        way.append(np.column_stack([level * np.cos(turn), level * np.sin(turn), np.full(number, height)]))
        area.append(np.full(number, 1.0 / (_RINGS * number)))
    return np.concatenate(way), np.concatenate(area)


def openness(places: Places, pieces: Pieces, ruler: Ruler) -> np.ndarray:
    """The share (P,) that each place gets of what it would on open ground."""
    upright = ~full(pieces, ruler, _LAYOUTS[2])
    across = np.ascontiguousarray(upright.transpose(1, 0, 2))
    grids = {2: upright, 1: across, 0: ~full(pieces, ruler, _LAYOUTS[0])}
    way, area = directions()
    sweeps = [(axis, own) for axis in grids for own in np.flatnonzero(np.abs(way).argmax(axis=1) == axis)]
    got, most = np.zeros(len(places.cell)), np.zeros(len(places.cell))
    work = partial(_swept, places, grids, way)
    for _, own, rows, seen in _each(work, sweeps):
        facing = (places.normal[rows] @ way[own]) * area[own]
        most[rows] += facing
        got[rows] += facing * seen
    return np.divide(got, most, out=np.ones_like(got), where=most > 0.0)


def _each(work, sweeps) -> Iterator[tuple[int, int, np.ndarray, np.ndarray]]:
    """What all sweeps find, few of them at a time: each holds a grid."""
    for some in threads.slices(len(sweeps), 4 * threads.WORKERS):
        yield from threads.each(work, sweeps[some])


def _swept(places: Places, grids: dict[int, np.ndarray], way: np.ndarray, sweep: tuple[int, int]):
    axis, own = sweep
    to, order = way[own], _LAYOUTS[axis]
    slope = [to[other] / to[axis] for other in order[1:]]
    seen = _sight(grids[axis], np.sign(to[axis]), slope)
    cosine = places.normal @ to
    rows = np.flatnonzero(cosine > 0.0)
    away = np.minimum(_CLEAR / cosine[rows], _FARTHEST)
    at = [np.floor(places.cell[rows, each] + away * to[each]).astype(np.int64) for each in order]
    return axis, own, rows, bit(seen, *at)


def _sight(grid: np.ndarray, sign: float, slope: list[float]) -> np.ndarray:
    """Bits of the cells that see out of a grid whose empty cells are 1, looking along the layers forwards or backwards and by a slope, at most 1, along
    rows and runs for each layer."""
    seen = np.empty_like(grid)
    free, back = np.empty_like(grid[0]), range(len(grid) - 1, -1, -1)
    order = list(back if sign > 0 else reversed(back))
    seen[order[0]] = _ONES
    steps = [np.rint(np.arange(len(grid)) * each).astype(int) for each in slope]
    for before, (layer, beyond) in enumerate(zip(order[1:], order[:-1], strict=True)):
        rows, run = (int(each[before + 1] - each[before]) * int(sign) for each in steps)
        np.bitwise_and(seen[beyond], grid[beyond], out=free)
        shifted(free, -rows, -run, seen[layer])
    return seen
