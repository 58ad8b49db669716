"""What a brick takes on from the one it stands on: errors of assembly add up along a stack, joint by joint.

A brick on several others evens out what these have of their own, one on a single other sits as that one does. Drake:
Dimensioning and Tolerancing Handbook, McGraw-Hill 1999, ch. 9: independent contributions of a stack add up as squares.
"""

from dataclasses import dataclass

import numpy as np

from ..build.bricks import Bricks
from ..build.touching import Contacts

_GOES_ON = 0.46  # of either brick's face, that one which goes on with the other shares with it: half, less the seams
_UPRIGHT = 0.999  # cosine of an angle that makes no difference


@dataclass(frozen=True)
class Stands:
    """What N bricks stand on."""

    on: np.ndarray  # (N,) the one brick that each takes errors on from; -1 for none
    goes_on: np.ndarray  # (N,) whether it goes on with that one, as bricks of a stack do, and does not lie on a part


def seats(contacts: Contacts) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lower brick, upper brick and shared face in mm² of each seat."""
    upright = contacts.frames[contacts.frame, 2, 2]
    seat = np.flatnonzero(contacts.seats & (np.abs(upright) > _UPRIGHT))
    a, b, up = contacts.a[seat], contacts.b[seat], upright[seat] > 0
    half = contacts.half[seat]
    return np.where(up, a, b), np.where(up, b, a), 4.0 * half[:, 0] * half[:, 1]


def stands(bricks: Bricks, lower: np.ndarray, upper: np.ndarray, face: np.ndarray, rooted: np.ndarray) -> Stands:
    """What bricks stand on, of which those `rooted` (N,) take on nothing: they stay, or something
    that stays stands on them.

    One that another lies on which lies on more than it is held by its neighbours, and not by what is below it; so is
    one that lies on itself over others, as a part does that reaches beneath them and over them. Nor does one go on with
    another that it reaches beneath, as a bracket does at the side of a plate.
    """
    number = len(bricks)
    first, last = np.full(number, number), np.full(number, -1)
    np.minimum.at(first, upper, lower)
    np.maximum.at(last, upper, lower)
    held = rooted.copy()
    held[lower[first[upper] < last[upper]]] = True
    on = np.where((first == last) & ~held, last, -1)
    on[_ringed(on)] = -1
    shared = _GOES_ON * 4.0 * bricks.half[:, 0] * bricks.half[:, 1]
    covered = np.bincount(upper, face, number)
    climbs = (on >= 0) & (bricks.low[:, 2] >= bricks.low[on, 2])
    return Stands(on, climbs & (covered > shared) & (covered > shared[on]))


def _ringed(on: np.ndarray) -> np.ndarray:
    """Numbers of the bricks from which the way down leads back to themselves: where it goes on for as many joints as
    there are bricks, it has come to these alone."""
    for _ in range(len(on).bit_length()):
        on = np.where(on >= 0, on[on], -1)
    return on[on >= 0]


def added_up(steps: np.ndarray, stands: Stands, centre: np.ndarray, most: np.ndarray) -> np.ndarray:
    """Motions (N, 6) of bricks with these centres (N, 3), out of the steps (N, 6) that they make on what they stand on.

    What is turned or tipped takes along what stands beside its middle. It does not take it aside by being tipped: a
    hand that builds keeps a tower upright, and the play in the joints lets it. A turn that has come to the `most` (N,
    3) that errors add up to goes back from there.
    """
    on = np.flatnonzero(stands.on >= 0)
    below = stands.on[on]
    motions = np.concatenate([steps[:, :3], _summed(steps[:, 3:], stands.on)], axis=1)
    motions[on, 3:] = _turned_back(motions[on, 3:], most[on])
    (x, y, _), (tip_x, tip_y, twist) = (centre[on] - centre[below]).T, motions[below, 3:].T
    motions[on, :3] += np.stack([-twist * y, twist * x, tip_x * y - tip_y * x], axis=1)
    motions[:, :3] = _summed(motions[:, :3], stands.on)
    return motions


def _summed(values: np.ndarray, on: np.ndarray) -> np.ndarray:
    """Each brick's values (N, C) and those of all below it, by twice as many joints at a time."""
    total, on, left = values.copy(), on.copy(), np.flatnonzero(on >= 0)
    while len(left):
        below = on[left]
        total[left], on[left] = total[left] + total[below], on[below]
        left = left[on[left] >= 0]
    return total


def _turned_back(values: np.ndarray, most: np.ndarray) -> np.ndarray:
    """Values (K, C) reflected at `most` (K, C) and at as much less than nothing, as often as they pass there."""
    return np.abs(np.mod(values - most, 4.0 * most) - 2.0 * most) - most
