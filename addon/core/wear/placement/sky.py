"""How open places are to the sky: the share of the light of an even sky, or of dust that falls from all of it, that
gets to them past all that is in the way.

For each of many directions a grid of bits is swept once from the far side: a cell sees the sky that way where it is
empty and the next cell does. A place is looked up half a cell away from its surface, on its own ray.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from ... import rigid, threads
from ...build.bricks import Pieces
from .grid import Ruler, full, is_set, shifted, spots

_DIRECTIONS, _GOLDEN = 96, np.pi * (3.0 - 5.0**0.5)  # how many, and from one to the next around
_CLEAR, _BEFORE = 0.5 + 1e-3, 0.02  # cells over its surface that a place is looked up, at the nearest border,
_FARTHEST = 4.0  # and cells along a ray that grazes it, at most
_ONES = np.uint64(0xFFFFFFFFFFFFFFFF)
_LAYOUTS = {2: (2, 1, 0), 1: (1, 2, 0), 0: (0, 2, 1)}  # axes of layers, rows and runs of the grid swept along each


@dataclass(frozen=True)
class Places:
    """Points on surfaces: P of them."""

    cell: np.ndarray  # (P, 3) in cells
    normal: np.ndarray  # (P, 3) outward, of length 1

    @cached_property
    def across(self) -> np.ndarray:
        """(3, P) the same cells."""
        return rigid.across(self.cell)

    @cached_property
    def outward(self) -> np.ndarray:
        """(3, P) the same normals."""
        return rigid.across(self.normal)


def directions() -> np.ndarray:
    """Directions (D, 3) over the upper hemisphere, each of which stands for as much of it: a Fibonacci lattice."""
    number = np.arange(_DIRECTIONS)
    height = 1.0 - (number + 0.5) / _DIRECTIONS  # bands of equal height have equal areas (Archimedes)
    turn, level = number * _GOLDEN, np.sqrt(1.0 - height * height)
    return np.column_stack([level * np.cos(turn), level * np.sin(turn), height])


def openness(
    places: Places, pieces: Pieces, ruler: Ruler, weights: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """The share (P,) that each place gets of what it would on open ground; and what (P,) it gets where so much comes
    from each of the directions (D,)."""
    upright = ~full(pieces, ruler, _LAYOUTS[2])
    across = np.ascontiguousarray(upright.transpose(1, 0, 2))
    grids = {2: upright, 1: across, 0: ~full(pieces, ruler, _LAYOUTS[0])}
    way = directions()
    sweeps = [(axis, own) for axis in grids for own in np.flatnonzero(np.abs(way).argmax(axis=1) == axis)]
    got, most, lit = (np.zeros(len(places.cell)) for _ in range(3))
    work = partial(_swept, places, grids, way)
    for (_, own), (rows, facing, seen) in zip(sweeps, _each(work, sweeps), strict=True):
        most[rows] += facing
        got[rows] += facing * seen
        if weights is not None:
            lit[rows] += weights[own] * facing * seen
    return np.divide(got, most, out=np.ones_like(got), where=most > 0.0), lit


def _each(work, sweeps) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """What all sweeps find, few of them at a time: each holds a grid."""
    for some in threads.slices(len(sweeps), 4 * threads.WORKERS):
        yield from threads.each(work, sweeps[some])


def _swept(places: Places, grids: dict[int, np.ndarray], way: np.ndarray, sweep: tuple[int, int]):
    """The places (R,) that face a direction, by how much (the cosine), and which of them see the sky that way."""
    axis, own = sweep
    to, order = way[own], _LAYOUTS[axis]
    slope = [to[other] / to[axis] for other in order[1:]]
    seen = _sight(grids[axis], np.sign(to[axis]), slope)
    cosine = rigid.weighted(places.outward, to)
    rows = np.flatnonzero(cosine > 0.0)
    facing = cosine.take(rows)
    away = np.minimum(_CLEAR / facing, _FARTHEST)
    at = np.stack([places.across[each].take(rows) + away * to[each] for each in order])
    way = to[list(order)]
    border = np.rint(at[0] - np.sign(to[axis]) * _BEFORE)
    at[1:] += (border - at[0]) / to[axis] * way[1:, None]
    at[0] = border + 0.5 * np.sign(to[axis])
    word, bit = spots(seen.shape, at)
    own_brick = np.flatnonzero(~is_set(grids[axis], word, bit))  # a cell is as coarse as that: one farther on
    word[own_brick], bit[own_brick] = spots(seen.shape, at[:, own_brick] + (way / np.abs(to[axis]))[:, None])
    return rows, facing, is_set(seen, word, bit)


def _sight(grid: np.ndarray, sign: float, slope: list[float]) -> np.ndarray:
    """Bits of the cells of a grid, whose empty cells are 1, that see out from the border by which a ray enters them,
    looking along the layers forwards or backwards and by a slope, at most 1, along rows and runs for each layer."""
    seen, free = np.empty_like(grid), np.empty_like(grid[0])
    order = list(range(len(grid) - 1, -1, -1))
    order = order if sign > 0 else order[::-1]
    border = np.arange(len(grid) + 1) - 0.5
    steps = ((-int(sign) * np.diff(np.rint(border * each)).astype(int)).tolist() for each in slope)
    out = np.full_like(grid[0], _ONES)
    for layer, rows, run in zip(order, *steps, strict=True):
        empty = grid[layer]
        np.bitwise_and(out, empty, free)  # where it leaves the layer
        out = seen[layer]
        shifted(free, rows, run, out)
        np.bitwise_and(out, empty, out)  # and where it enters it
    return seen
