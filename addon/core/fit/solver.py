"""Closest motions to given targets under the rows of `rows.Rows`: a quadratic programme, solved contact by contact.

    minimise  1/2 sum_i |u_i - target_i|^2_W   subject to   low <= row . u <= high  and  least_i <= u_i <= most_i

The dual is solved by block coordinate ascent: a contact's eight rows are met one after another, contacts that share no
brick at once, and the bricks' own limits once a sweep, since they hardly ever bind; in a repair after every colour. A
sweep goes through all colours and back, and momentum is put between sweeps: of constant weight in a short solve, as for
a strongly convex function, growing in a long one. Momentum on a one-way sweep diverges in the end, hence the way back;
while its weight is constant the first few colours are enough for that. The number of sweeps is fixed and every step
reads a contact's two bricks alone, so what a brick does depends on its neighbourhood and not on the rest of the build.

Boyd, Vandenberghe: Convex Optimization, ch. 5 (duality); Nesterov: Introductory Lectures on Convex Optimization,
2004, 2.2 (constant weight); Su, Boyd, Candès: A Differential Equation for Modeling Nesterov's Accelerated Gradient
Method, 2016 (growing weight 1 - r / k).
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from .. import threads
from .rows import Rows
from .tape import FEW, GREATER, LESSER, Block, Workspace, records

_MOMENTUM = 0.5  # of a sweep's step that is taken once more; 0.45 to 0.6 come about as close in nine sweeps
_LAG = 4.5  # sweeps by which the weight lags behind 1 in longer solves
_BACK = 3  # colours, half of all contacts, that are met on the way back too while the weight is constant
_CHUNK = threads.CHUNK  # numbers gone over together
_SHARE = 8 * _CHUNK  # numbers worth a thread
_LEAST, _MOST = FEW, 16384  # contacts in a block: enough to be worth a thread, and what a cache holds

_Together = Callable[[Callable[[Any], None], list], None]  # some work on several things at once


@dataclass(frozen=True)
class Closest:
    """Motions (N, 6) in mm and radians, and the forces (K, 8) of the contacts that hold them off their targets.

    Forces are the rows' multipliers, in the order the contacts were given.
    """

    motions: np.ndarray
    forces: np.ndarray


def closest(
    target: np.ndarray,
    least: np.ndarray,
    most: np.ndarray,
    mobility: np.ndarray,
    rows: Rows,
    sweeps: int,
    forces: np.ndarray | None = None,
) -> Closest:
    """Motions close to `target` (N, 6) that meet the rows; mm and radians, float64 in, float32 accuracy.

    `mobility` (2, N): inverse weights of shift and turn, 0 for a brick that stays at its target. `forces` (K, 8) are
    those to begin with, as from an earlier solve: none at all without them.
    """
    return _Sweeps(target, least, most, mobility, rows).run(sweeps, forces)


class _Bricks(NamedTuple):
    """The records (k, 8) of some bricks that are limited together."""

    state: np.ndarray
    held: np.ndarray
    least: np.ndarray
    most: np.ndarray


class _Sweeps:
    """A solve as it stands: `state` is the motion, the target plus the pull of all rows and of the bricks' limits."""

    def __init__(self, target, least, most, mobility, rows: Rows):
        self.rows = rows
        self.mobility = mobility.astype(np.float32)
        self.state, self.least, self.most = (records(each) for each in (target, least, most))
        self.held = np.zeros_like(self.state)  # the pull of the bricks' own limits
        self.pull = np.zeros(8 * len(rows), dtype=np.float32)  # multipliers, each times its row's own compliance
        self.lanes = self._lanes()

    def run(self, sweeps: int, forces: np.ndarray | None) -> Closest:
        with ThreadPoolExecutor(max(threads.WORKERS - 1, 1)) as crew:  # this thread works too
            return self._run(sweeps, forces, partial(_together, crew))

    def _run(self, sweeps: int, forces: np.ndarray | None, together: _Together) -> Closest:
        rows = self.rows
        blocks = [block for colour in self.lanes for lane in colour for block in lane]
        repair = forces is not None
        if repair:
            for block in blocks:
                block.begin(forces[rows.order[block.part]])
        before = [each.copy() for each in self._going]
        bricks, few = self._bricks(), int((rows.colours < _BACK).sum())
        together(_limit, bricks)
        for sweep in range(sweeps):
            growing = 1.0 - _LAG / (sweep + 1.0)
            back = self.lanes[:-1] if growing > _MOMENTUM else self.lanes[:few]
            for colour in (*self.lanes, *back[::-1]):
                together(_meet, colour)
                if repair:  # much presses there, the bricks' own limits too
                    together(_limit, bricks)
            if sweep < sweeps - 1:
                weight = np.float32(max(_MOMENTUM, growing))
                for now, was in zip(self._going, before, strict=True):
                    together(partial(_go_ahead, now, was, weight), _shares(len(now)))
            together(_limit, bricks)
        found = np.empty((len(rows), 8), dtype=np.float32)
        for block in blocks:
            found[rows.order[block.part]] = block.forces
        return Closest(self.state[:, :6].astype(np.float64), found)

    @property
    def _going(self) -> list[np.ndarray]:
        """All that momentum carries on, flat."""
        return [self.state.reshape(-1), self.held.reshape(-1), self.pull]

    def _bricks(self) -> list[list[_Bricks]]:
        """The bricks as each of a few threads limits them; listed once, as a repair goes over few of them often."""
        shares = _shares(len(self.state), 8)
        tables = self.state, self.held, self.least, self.most
        return [[_Bricks(*(each[part] for each in tables)) for part in _chunks(share, 8)] for share in shares]

    def _lanes(self) -> list[list[list[Block]]]:
        """The blocks of each colour, as each of a few threads meets them one after another in a room of its own."""
        widest = min(np.diff(self.rows.starts).max(initial=0), _MOST)
        rooms = [np.zeros(Workspace.numbers(widest), dtype=np.float32) for _ in range(threads.WORKERS)]
        found = []
        for colour in self.rows.slices:
            number = colour.stop - colour.start
            size = min(max(-(-number // threads.WORKERS), _LEAST), _MOST)
            parts = list(_within(colour, size))
            dealt = [(parts[lane :: threads.WORKERS], room) for lane, room in enumerate(rooms)]
            found.append([[self._block(part, room) for part in lane] for lane, room in dealt if lane])
        return found

    def _block(self, part: slice, room: np.ndarray) -> Block:
        return Block(self.rows, part, self.mobility, self.state, self.pull, room)


def _together(crew: ThreadPoolExecutor, work: Callable[[Any], None], parts: list) -> None:
    others = [crew.submit(work, part) for part in parts[1:]]
    work(parts[0])
    for other in others:
        other.result()


def _shares(number: int, width: int = 1) -> list[slice]:
    """Things of some numbers each, shared out among threads where there are enough."""
    return threads.slices(number, max(-(-number // threads.WORKERS), _SHARE // width))


def _chunks(part: slice, width: int = 1) -> Iterator[slice]:
    return _within(part, _CHUNK // width)


def _within(part: slice, most: int) -> Iterator[slice]:
    """A slice in slices of at most `most`."""
    return (
        slice(part.start + each.start, part.start + each.stop) for each in threads.slices(part.stop - part.start, most)
    )


def _limit(some: list[_Bricks]) -> None:
    """Moves bricks to where they want to be without the pull of their own limits, or to the nearer limit."""
    for state, held, least, most in some:
        np.subtract(state, held, held)
        GREATER(held, least, state)
        LESSER(state, most, state)
        np.subtract(state, held, held)


def _meet(blocks: list[Block]) -> None:
    for block in blocks:
        block.meet()


def _go_ahead(now: np.ndarray, before: np.ndarray, weight: np.float32, part: slice) -> None:
    """Takes so much of the step from `before` to `now` once more, and remembers where it was taken from."""
    room = np.empty(min(_CHUNK, len(now)), dtype=now.dtype)
    for chunk in _chunks(part):
        here, there = now[chunk], before[chunk]
        step = np.subtract(here, there, out=room[: len(here)])
        step *= weight
        there[...] = here
        here += step
