"""Which bricks touch: seats (one stands on another), sides (neighbours across a seam), joints (seats that hold)."""

from dataclasses import dataclass

import numpy as np

from .bricks import PITCH, Bricks

SEAT_GAP_MM = 0.3  # a face this close above another stands on it
SIDE_GAP_MM = 0.6  # two walls this close form a seam
OVERLAP_MM = 1.0  # less than this of shared face is a corner meeting a corner
_CELL_MM = 2 * PITCH


@dataclass(frozen=True)
class Contacts:
    """Pairs of brick indices, each pair once."""

    seats: np.ndarray  # (S, 2) lower, upper
    studs: np.ndarray  # (S,) studs of the lower brick that the upper one holds; 0 where it only stands there
    sides: np.ndarray  # (T, 2)

    @property
    def joints(self) -> np.ndarray:
        """(J, 2) the seats that hold."""
        return self.seats[self.studs > 0]


def contacts(bricks: Bricks) -> Contacts:
    """All contacts of a build at rest, by the upright boxes of the bricks' bodies."""
    low, high = bricks.low, bricks.high
    i, j = near_pairs(low, high, SIDE_GAP_MM).T
    gap = np.maximum(low[i], low[j]) - np.minimum(high[i], high[j])  # (P, 3) negative where they overlap
    wide = gap < -OVERLAP_MM
    seat = wide[:, 0] & wide[:, 1] & (np.abs(gap[:, 2]) <= SEAT_GAP_MM)
    side = wide[:, 2] & (
        (wide[:, 1] & (np.abs(gap[:, 0]) <= SIDE_GAP_MM)) | (wide[:, 0] & (np.abs(gap[:, 1]) <= SIDE_GAP_MM))
    )
    first_below = bricks.centre[i, 2] < bricks.centre[j, 2]
    lower, upper = np.where(first_below, i, j)[seat], np.where(first_below, j, i)[seat]
    studs = _studs_held(bricks, lower, upper, -gap[seat])
    return Contacts(np.stack([lower, upper], axis=1), studs, np.stack([i[side], j[side]], axis=1))


def _studs_held(bricks: Bricks, lower: np.ndarray, upper: np.ndarray, overlap: np.ndarray) -> np.ndarray:
    """Studs in the shared face, one for each pitch of it, where the studs of one meet the underside of the other."""
    studs_up = bricks.studs_up
    held = (studs_up[lower] == 1) & (studs_up[upper] >= 0) | (studs_up[upper] == -1) & (studs_up[lower] <= 0)
    across = np.rint(np.maximum(overlap[:, :2], 0.5 * PITCH) / PITCH).astype(int)
    return np.where(held, np.maximum(across[:, 0], 1) * np.maximum(across[:, 1], 1), 0)


def near_pairs(low: np.ndarray, high: np.ndarray, reach: float) -> np.ndarray:
    """Pairs (P, 2) of boxes (N, 3) that come within `reach` of each other, each pair once, smaller index first.

    Every box is entered in each cell of a coarse grid that it touches; boxes of one cell are compared.
    """
    if len(low) < 2:
        return np.zeros((0, 2), dtype=np.intp)
    cell, box = _cells(low - 0.5 * reach, high + 0.5 * reach)
    order = np.argsort(cell, kind="stable")
    cell, box = cell[order], box[order]
    pairs = []
    for step in range(1, len(cell)):
        together = np.flatnonzero(cell[step:] == cell[:-step])
        if not len(together):
            break
        pairs.append(np.stack([box[together], box[together + step]], axis=1))
    if not pairs:
        return np.zeros((0, 2), dtype=np.intp)
    pair = np.sort(np.concatenate(pairs), axis=1)
    near = np.all((low[pair[:, 0]] <= high[pair[:, 1]] + reach) & (low[pair[:, 1]] <= high[pair[:, 0]] + reach), axis=1)
    code = np.unique(pair[near, 0] * len(low) + pair[near, 1])
    return np.stack([code // len(low), code % len(low)], axis=1)


def _cells(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cell number and box index of every (cell, box) that touch."""
    first = np.floor((low - low.min(axis=0)) / _CELL_MM).astype(np.int64)
    last = np.floor((high - low.min(axis=0)) / _CELL_MM).astype(np.int64)
    count = last - first + 1
    total = count[:, 0] * count[:, 1] * count[:, 2]
    box = np.repeat(np.arange(len(low)), total)
    within = np.arange(total.sum()) - np.repeat(np.cumsum(total) - total, total)
    x, rest = within % count[box, 0], within // count[box, 0]
    y, z = rest % count[box, 1], rest // count[box, 1]
    at = first[box] + np.stack([x, y, z], axis=1)
    size = last.max(axis=0) + 1
    return (at[:, 2] * size[1] + at[:, 1]) * size[0] + at[:, 0], box
