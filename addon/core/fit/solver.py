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

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import starmap
from math import prod
from operator import call
from typing import Any

import numpy as np

from .. import threads
from .rows import OF_ROWS, Rows

_MOMENTUM = 0.5  # of a sweep's step that is taken once more; 0.45 to 0.6 come about as close in nine sweeps
_LAG = 4.5  # sweeps by which the weight lags behind 1 in longer solves
_BACK = 3  # colours, half of all contacts, that are met on the way back too while the weight is constant
_BRICK = "V32"  # one brick's motion, gathered and scattered as one piece: six float32, and two that fill it up
_CHUNK = threads.CHUNK  # numbers gone over together
_SHARE = 8 * _CHUNK  # numbers worth a thread
_LEAST, _MOST = 8192, 16384  # contacts in a block: enough to be worth a thread, and what a cache holds
_SHAPES = (  # of what a meeting works in
    (8, 2), (9, 2), (9, 2), (3, 2), (6, 2), (3, 3), (6,), (4,), (4,), (3,), (8,), (5, 1), (4,)
)  # fmt: skip
_LIMIT_OF_ROW = np.repeat(np.arange(len(OF_ROWS)), OF_ROWS).tolist()
_ONWARD = (slice(0, 3), slice(3, 5), slice(5, 6))  # of a give: what a row does to the rows met after it
_ROOM = sum(prod(shape) for shape in _SHAPES)
# The same, as nothing here is NaN: numpy 1 takes a third of the time for the first, newer ones want its result named.
_GREATER, _LESSER = (np.fmax, np.fmin) if np.lib.NumpyVersion(np.__version__) >= "2.0.0" else (np.maximum, np.minimum)

_Call = tuple[np.ufunc, np.ndarray, np.ndarray, np.ndarray]  # of two operands, and where the result goes
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


class _Sweeps:
    """A solve as it stands: `state` is the motion, the target plus the pull of all rows and of the bricks' limits."""

    def __init__(self, target, least, most, mobility, rows: Rows):
        self.rows = rows
        self.mobility = mobility.astype(np.float32)
        self.state, self.least, self.most = (_records(each) for each in (target, least, most))
        self.held = np.zeros_like(self.state)  # the pull of the bricks' own limits
        self.pull = np.zeros(8 * len(rows), dtype=np.float32)  # multipliers, each times its row's own stiffness
        self.lanes = _lanes(self)

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
        bricks, few = _shares(len(self.state), 8), int((rows.colours < _BACK).sum())
        together(self._limit, bricks)
        for sweep in range(sweeps):
            growing = 1.0 - _LAG / (sweep + 1.0)
            back = self.lanes[:-1] if growing > _MOMENTUM else self.lanes[:few]
            for colour in (*self.lanes, *back[::-1]):
                together(_meet, colour)
                if repair:  # much presses there, the bricks' own limits too
                    together(self._limit, bricks)
            if sweep < sweeps - 1:
                weight = np.float32(max(_MOMENTUM, growing))
                for now, was in zip(self._going, before, strict=True):
                    together(partial(_go_ahead, now, was, weight), _shares(len(now)))
            together(self._limit, bricks)
        found = np.empty((len(rows), 8), dtype=np.float32)
        for block in blocks:
            found[rows.order[block.part]] = block.forces
        return Closest(self.state[:, :6].astype(np.float64), found)

    @property
    def _going(self) -> list[np.ndarray]:
        """All that momentum carries on, flat."""
        return [self.state.reshape(-1), self.held.reshape(-1), self.pull]

    def _limit(self, bricks: slice) -> None:
        """Moves bricks to where they want to be without the pull of their own limits, or to the nearer limit."""
        for part in _chunks(bricks, 8):
            state, held = self.state[part], self.held[part]
            state -= held
            np.negative(state, out=held)
            np.maximum(state, self.least[part], out=state)
            np.minimum(state, self.most[part], out=state)
            held += state


def _together(crew: ThreadPoolExecutor, work: Callable[[Any], None], parts: list) -> None:
    others = [crew.submit(work, part) for part in parts[1:]]
    work(parts[0])
    for other in others:
        other.result()


def _shares(number: int, width: int = 1) -> list[slice]:
    """Things of some numbers each, shared out among threads where there are enough."""
    return threads.slices(number, max(-(-number // threads.WORKERS), _SHARE // width))


def _chunks(part: slice, width: int = 1) -> Iterator[slice]:
    size = _CHUNK // width
    return (slice(start, min(start + size, part.stop)) for start in range(part.start, part.stop, size))


def _lanes(sweeps: _Sweeps) -> list[list[list["_Block"]]]:
    """The blocks of each colour, as each of a few threads meets them one after another in a room of its own."""
    widest = min(np.diff(sweeps.rows.starts).max(initial=0), _MOST)
    rooms = [np.zeros(_ROOM * widest, dtype=np.float32) for _ in range(threads.WORKERS)]
    found = []
    for colour in sweeps.rows.slices:
        number = colour.stop - colour.start
        size = min(max(-(-number // threads.WORKERS), _LEAST), _MOST)
        parts = [slice(colour.start + each.start, colour.start + each.stop) for each in threads.slices(number, size)]
        dealt = [(parts[lane :: threads.WORKERS], room) for lane, room in enumerate(rooms)]
        found.append([[_Block(sweeps, part, room) for part in lane] for lane, room in dealt if lane])
    return found


def _meet(blocks: list["_Block"]) -> None:
    for block in blocks:
        block.meet()


class _Block:
    """Contacts of one colour, met at once. Both ends of k contacts stand side by side, as arrays (..., 2, k).

    Blocks work in the same room, one after another: it stays in the cache, and nothing is allocated. What a meeting
    does is listed once, as calls of two operands and a result (the greater of a value and itself is a copy): in small
    blocks looking arrays up takes longer than the sums.
    """

    def __init__(self, sweeps: _Sweeps, part: slice, room: np.ndarray):
        rows, self.part = sweeps.rows, part
        ends = np.concatenate([rows.a[part], rows.b[part]]).astype(np.intp)
        self._bricks, self._ends = sweeps.state.view(_BRICK)[:, 0], ends
        mobility = sweeps.mobility.take(ends, axis=1).reshape(2, 2, -1)
        pushed = np.array([[-1.0], [1.0]], dtype=np.float32)  # b is pushed, a pushed back
        self._shift_give, self._turn_give = mobility * pushed
        self._frame = rows.frame_of(part)
        arm, self._half, self._stud, self._ease, self._coupling = (
            self._in_one_piece(each[..., part]) for each in (rows.arm, rows.half, rows.stud, rows.ease, rows.coupling)
        )
        self._arm_second, self._arm_third = arm[:3], arm[1:]
        self._work_in(room, part.stop - part.start)
        self._pull = sweeps.pull[8 * part.start : 8 * part.stop].reshape(8, -1)
        low, high = ([each[n, part] for n in _LIMIT_OF_ROW] for each in (rows.low, rows.high))
        corners, studs = (
            self._met(4 * kind, low[4 * kind :], high[4 * kind :], give[:, part])
            for kind, give in enumerate((rows.give_corner, rows.give_stud))
        )
        self._pulling = [*self._corners_summed(), *self._bricks_pulled()]
        self._meeting = [
            *self._seen_apart(), *self._corners_seen(), *corners, *self._corners_summed(), *self._coupled_on(),
            *self._studs_seen(), *studs, *self._bricks_pulled(),
        ]  # fmt: skip

    @staticmethod
    def _in_one_piece(values: np.ndarray) -> np.ndarray:
        """A copy where there are few: calls on them are quicker; many would only take room twice."""
        return np.ascontiguousarray(values) if values.shape[-1] < _LEAST else values

    def _work_in(self, room: np.ndarray, number: int) -> None:
        arrays, start = [], 0
        for shape in _SHAPES:
            stop = start + prod(shape) * number
            arrays.append(room[start:stop].reshape(*shape, number))
            start = stop
        (records, state, turned, self._way, self._more, self._coupled, self._seen, self._value, self._sums,
         self._given, self._push, self._force, self._load) = arrays  # fmt: skip
        self._state = state[:6]
        self._motion = state if self._frame.level else turned  # as seen in the contacts' axes
        self._packed = records.reshape(-1, 8).view(_BRICK)[:, 0]
        self._columns = np.moveaxis(records.reshape(2, number, 8), 2, 0)[:6]

    @property
    def forces(self) -> np.ndarray:
        """(k, 8) of the rows, as they are met now."""
        return (self._pull * self._ease).T

    def begin(self, forces: np.ndarray) -> None:
        """Puts the forces (k, 8) that the rows begin with onto the two bricks."""
        np.divide(forces.T, self._ease, self._pull)
        np.multiply(self._pull, self._ease, self._push)
        self._do(self._pulling)

    def meet(self) -> None:
        """One pass over the eight rows of each contact; their pull goes onto the two bricks."""
        self._do(self._meeting)

    def _do(self, calls: list[_Call]) -> None:
        self._bricks.take(self._ends, 0, self._packed, "clip")
        np.copyto(self._state, self._columns)
        deque(starmap(call, calls), maxlen=0)  # the quickest way to make calls
        self._bricks.put(self._ends, self._packed, "clip")

    def _seen_apart(self) -> Iterator[_Call]:
        """How b moves against a at the contact, in its own axes (6, k): wx, wy, w, x, y, n."""
        motion, way, more = self._motion, self._way, self._more[:3]
        shift, turn, again, at_contact = motion[:3], motion[3:6], motion[6:8], motion[6:]
        if not self._frame.level:
            yield _GREATER, self._state, self._state, motion[:6]
            for vectors in (shift, turn):
                yield from _applied(self._frame.axes, vectors, way, more)
        yield _GREATER, turn[:2], turn[:2], again  # x and y again for cross products
        yield np.multiply, motion[4:7], self._arm_third, way
        yield np.multiply, motion[5:8], self._arm_second, more
        yield np.subtract, way, more, way
        yield np.add, shift, way, at_contact
        yield np.subtract, motion[3:, 1], motion[3:, 0], self._seen

    def _corners_seen(self) -> Iterator[_Call]:
        wx, wy, *_, n = self._seen
        tip = self._seen[:2]
        up, down = self._sums[:2]
        first, second, third, fourth = self._value
        yield np.multiply, tip, self._half, tip  # a corner sees a tip as its way
        yield np.add, n, wx, up
        yield np.subtract, n, wx, down
        yield np.subtract, up, wy, first
        yield np.add, down, wy, second
        yield np.subtract, down, wy, third
        yield np.add, up, wy, fourth

    def _corners_summed(self) -> Iterator[_Call]:
        """Force (3, k) of the corners along n, and their turns about x and y."""
        first, second, third, fourth = self._push[:4]
        (outer, inner, across, along), (n, wx, wy) = self._sums, self._load[:3]
        yield np.add, first, fourth, outer
        yield np.add, second, third, inner
        yield np.subtract, fourth, first, across
        yield np.subtract, third, second, along
        yield np.add, outer, inner, n
        yield np.subtract, outer, inner, wx
        yield np.subtract, across, along, wy
        yield np.multiply, self._load[1:3], self._half, self._load[1:3]

    def _coupled_on(self) -> Iterator[_Call]:
        """What the corners' force does to w, x and y."""
        twist_and_way, coupled, sums = self._seen[2:5], self._coupled, self._sums[:3]
        yield np.multiply, self._coupling, self._load[:3, None], coupled
        yield np.add, coupled[0], coupled[1], sums
        yield np.add, sums, coupled[2], sums
        yield np.add, twist_and_way, sums, twist_and_way

    def _studs_seen(self) -> Iterator[_Call]:
        pairs = self._value.reshape(2, 2, -1)
        yield np.multiply, self._stud, self._seen[2], self._value
        yield np.add, pairs, self._seen[3:5, None], pairs

    def _met(self, first: int, low: list[np.ndarray], high: list[np.ndarray], give: np.ndarray) -> Iterator[_Call]:
        """Moves the value of each of four rows to where it wants to be without its own pull, or to the nearer limit."""
        four = slice(first, first + 4)
        value, pull, push = self._value, self._pull[four], self._push[four]
        for row, step in enumerate(push):
            yield np.subtract, value[row], pull[row], step
            yield _GREATER, step, low[row], step
            yield _LESSER, step, high[row], step
            yield np.subtract, step, value[row], step
            if len(after := value[row + 1 :]):
                yield np.multiply, give[_ONWARD[row]], step, self._given[row:]
                yield np.add, after, self._given[row:], after
        yield np.add, pull, push, pull
        yield np.multiply, push, self._ease[four], push

    def _bricks_pulled(self) -> Iterator[_Call]:
        push, force, way, more = self._push, self._force, self._way, self._more
        forces, turns, twists, torque = force[:3], more[3:], self._value, self._load[1:]
        yield np.add, push[4], push[5], force[0, 0]
        yield np.add, push[6], push[7], force[1, 0]
        yield _GREATER, self._load[0], self._load[0], force[2, 0]
        yield _GREATER, force[:2], force[:2], force[3:]  # x and y again for cross products
        yield np.multiply, self._arm_second, force[2:], turns
        yield np.multiply, self._arm_third, force[1:4], way
        yield np.subtract, turns, way, turns
        yield np.multiply, self._stud, push[4:], twists
        yield np.add, twists[:2], twists[2:], twists[:2]
        yield np.add, twists[0], twists[1], torque[2]
        yield np.add, turns, torque[:, None], turns
        if not self._frame.level:
            back = self._frame.axes.swapaxes(0, 1)
            yield from _applied(back, forces, way[:, :1], more[:3, :1])
            yield from _applied(back, turns, way, more[:3])
        yield np.multiply, self._shift_give, forces, more[:3]
        yield np.multiply, self._turn_give, turns, turns
        yield np.add, self._state, more, self._columns


def _go_ahead(now: np.ndarray, before: np.ndarray, weight: np.float32, part: slice) -> None:
    """Takes so much of the step from `before` to `now` once more, and remembers where it was taken from."""
    room = np.empty(min(_CHUNK, len(now)), dtype=now.dtype)
    for chunk in _chunks(part):
        here, there = now[chunk], before[chunk]
        step = np.subtract(here, there, out=room[: len(here)])
        step *= weight
        there[...] = here
        here += step


def _applied(matrices: np.ndarray, vectors: np.ndarray, first: np.ndarray, second: np.ndarray) -> Iterator[_Call]:
    """Matrices (3, 3, 1, k) applied to vectors (3, ..., k) in place, with room for two more such."""
    yield np.multiply, matrices[:, 0], vectors[0], first
    yield np.multiply, matrices[:, 1], vectors[1], second
    yield np.add, first, second, first
    yield np.multiply, matrices[:, 2], vectors[2], second
    yield np.add, first, second, vectors


def _records(values: np.ndarray) -> np.ndarray:
    """Motions (N, 6) as the records (N, 8) that bricks are gathered by."""
    found = np.zeros((len(values), 8), dtype=np.float32)
    found[:, :6] = values
    return found
