"""Closest motions to given targets under the rows of `rows.Rows`: a quadratic programme, solved contact by contact.

    minimise  1/2 sum_i |u_i - target_i|^2_W   subject to   low <= row . u <= high  and  least_i <= u_i <= most_i

The dual is solved by block coordinate ascent: a contact's eight rows are met one after another, contacts that share no
brick at once. A sweep goes through all colours and back, and momentum is put between sweeps: of constant weight in a
short solve, as for a strongly convex function, growing in a long one. The sweep is symmetric because momentum on a
one-way sweep can diverge. The number of sweeps is fixed and every step reads a contact's two bricks alone, so what a
brick does depends on its neighbourhood and not on the rest of the build.

Boyd, Vandenberghe: Convex Optimization, ch. 5 (duality); Nesterov: Introductory Lectures on Convex Optimization,
2004, 2.2 (constant weight); Su, Boyd, Candès: A Differential Equation for Modeling Nesterov's Accelerated Gradient
Method, 2016 (growing weight 1 - r / k).
"""

from dataclasses import dataclass
from math import prod

import numpy as np

from .rows import Rows

_MOMENTUM = 0.6  # of a sweep's step that is taken once more: 10 sweeps come as close as 12 of Nesterov's own weights
_LAG = 4.0  # sweeps by which the weight lags behind 1 in longer solves
_BRICK = "V32"  # one brick's motion, gathered and scattered as one piece: six float32, and two that fill it up
_SHAPES = (8, 2), (6, 2), (3, 2), (3, 2), (3, 3), (6,), (4,), (4,), (8,), (5, 1), (3,)  # what a meeting works in
_ROOM = sum(prod(shape) for shape in _SHAPES)
_GIVES = (slice(0, 3), slice(3, 5), slice(5, 6), slice(6, 6))  # of the rows met first, second, third and last


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
    """The state of a solve. `state` is the target plus the pull of all rows; clipped to the limits it is the motion."""

    def __init__(self, target, least, most, mobility, rows: Rows):
        self.rows = rows
        self.least, self.most = _columns(least), _columns(most)
        self.mobility = mobility.astype(np.float32)
        self.state = np.zeros((len(target), 8), dtype=np.float32)
        self.state[:, :6] = target
        self.pull = np.zeros((8, len(rows)), dtype=np.float32)  # multipliers, each times its row's own stiffness
        self.room = np.zeros(_ROOM * np.diff(rows.starts).max(initial=0), dtype=np.float32)

    def run(self, sweeps: int, forces: np.ndarray | None) -> Closest:
        rows = self.rows
        blocks = [_Block(self, part) for part in rows.slices]
        if forces is not None:
            np.divide(forces[rows.order].T, rows.ease, out=self.pull)
            for block in blocks:
                block.begin()
        before = self.state.copy(), self.pull.copy()
        for sweep in range(sweeps):
            for block in (*blocks, *reversed(blocks)):
                block.meet()
            if sweep < sweeps - 1:
                weight = np.float32(max(_MOMENTUM, 1.0 - _LAG / (sweep + 1.0)))
                for now, old in zip((self.state, self.pull), before, strict=True):
                    np.subtract(now, old, out=old)
                    old *= weight
                    old += now  # the point ahead
                    swap = now.copy()
                    now[...] = old
                    old[...] = swap
        found = np.empty_like(self.pull.T)
        found[rows.order] = (self.pull * rows.ease).T
        return Closest(np.clip(self.state[:, :6].T, self.least, self.most).T.astype(np.float64), found)


class _Block:
    """Contacts of one colour, met at once. Both ends of k contacts stand side by side, as arrays (..., 2, k).

    All blocks work in the same room, one after another: it stays in the cache, and nothing is allocated.
    """

    def __init__(self, sweeps: _Sweeps, part: slice):
        rows = sweeps.rows
        ends = np.concatenate([rows.a[part], rows.b[part]])
        self._bricks, self._ends = sweeps.state.view(_BRICK)[:, 0], ends
        self._least, self._most, mobility = (
            each[:, ends].reshape(len(each), 2, -1) for each in (sweeps.least, sweeps.most, sweeps.mobility)
        )
        pushed = np.array([[-1.0], [1.0]], dtype=np.float32)  # b is pushed, a pushed back
        self._shift_give, self._turn_give = mobility * pushed
        self._frame = rows.frame_of(part)
        arms = np.stack([rows.arm_a[:, part], rows.arm_b[:, part]], axis=1)
        self._arm_second, self._arm_third = arms[[1, 2, 0]], arms[[2, 0, 1]]
        self._half = rows.half[::-1, part]  # what wx and wy see a corner at
        self._stud, self._coupling = rows.stud[:, part], rows.coupling[:, :, part]
        self._work_in(sweeps.room, part.stop - part.start)
        self._pull, self._ease = sweeps.pull[:, part], rows.ease[:, part]
        self._corner_rows, self._stud_rows = (
            _Rows(self._value, rows.low[four, part], rows.high[four, part], self._pull[four], self._push[four],
                  self._ease[four], give[:, part])
            for four, give in ((slice(0, 4), rows.give_corner), (slice(4, 8), rows.give_stud))
        )  # fmt: skip

    def _work_in(self, room: np.ndarray, number: int) -> None:
        arrays, start = [], 0
        for shape in _SHAPES:
            stop = start + prod(shape) * number
            arrays.append(room[start:stop].reshape(*shape, number))
            start = stop
        (self._motion, self._state, self._way, self._more, self._coupled, self._seen, self._value, self._sums,
         self._push, self._force, self._normal) = arrays  # fmt: skip
        records = room[: 16 * number].reshape(-1, 8)  # bricks as they are kept; by then no motion is needed
        self._packed, self._columns = records.view(_BRICK)[:, 0], records.T[:6]
        self._flat_state = self._state.reshape(6, -1)

    def begin(self) -> None:
        """Puts the pull that the rows begin with onto the two bricks."""
        np.multiply(self._pull, self._ease, self._push)
        self._gather()
        self._add_corners()
        self._pull_bricks()

    def meet(self) -> None:
        """One pass over the eight rows of each contact; their pull goes onto the two bricks."""
        self._gather()
        self._see()
        self._meet_corners()
        self._add_corners()
        self._couple()
        self._meet_studs()
        self._pull_bricks()

    def _gather(self) -> None:
        """States (6, 2, k) of both ends."""
        self._bricks.take(self._ends, 0, self._packed, "clip")
        np.copyto(self._flat_state, self._columns)

    def _scatter(self) -> None:
        for column, values in zip(self._columns, self._flat_state, strict=True):
            column[...] = values  # numpy's own transposed copy takes four times as long
        self._bricks.put(self._ends, self._packed)

    def _see(self) -> None:
        """How b moves against a at the contact, in its own axes (6, k): x, y, n, wx, wy, w."""
        motion, way, more = self._motion, self._way, self._more
        shift_and_turn = motion[:6]
        np.maximum(self._state, self._least, out=shift_and_turn)
        np.minimum(shift_and_turn, self._most, out=shift_and_turn)
        if not self._frame.level:
            motion[:3], motion[3:6] = self._frame.into(motion[:3]), self._frame.into(motion[3:6])
        motion[6:] = motion[3:5]  # a turn's x and y again for cross products
        np.multiply(motion[4:7], self._arm_third, way)
        np.multiply(motion[5:], self._arm_second, more)
        way -= more
        motion[:3] += way
        np.subtract(motion[:6, 1], motion[:6, 0], self._seen)

    def _meet_corners(self) -> None:
        n, wx, wy = seen = self._seen[2:5]
        seen[1:] *= self._half  # a corner sees a tip as its way
        up, down = self._sums[:2]
        np.add(n, wx, up)
        np.subtract(n, wx, down)
        first, second, third, fourth = self._value
        np.subtract(up, wy, first)
        np.add(down, wy, second)
        np.subtract(down, wy, third)
        np.add(up, wy, fourth)
        self._corner_rows.meet()

    def _meet_studs(self) -> None:
        value, seen = self._value, self._seen
        np.multiply(self._stud, seen[5], value)
        value[:2] += seen[0]
        value[2:] += seen[1]
        self._stud_rows.meet()

    def _add_corners(self) -> None:
        """Force (3, k) of the corners along n, and their turns about x and y."""
        push, along = self._push, self._normal
        sums, differences = self._sums[:2], self._sums[2:]
        np.add(push[:2], push[3:1:-1], sums)
        np.subtract(push[3:1:-1], push[:2], differences)
        np.add(sums[0], sums[1], along[0])
        np.subtract(sums[0], sums[1], along[1])
        np.subtract(differences[0], differences[1], along[2])
        along[1:] *= self._half

    def _couple(self) -> None:
        """What the corners' force does to x, y and w."""
        seen = self._seen
        np.multiply(self._coupling, self._normal, self._coupled)
        w, x, y = np.add.reduce(self._coupled, axis=1)
        seen[0] += x
        seen[1] += y
        seen[5] += w

    def _pull_bricks(self) -> None:
        push, force, normal, turns, more = self._push, self._force, self._normal, self._way, self._more
        np.add(push[4:8:2], push[5:8:2], force[:2, 0])
        force[2], force[3:] = normal[0], force[:2]  # x, y, z, and x, y again for cross products
        np.multiply(self._arm_second, force[2:], turns)
        np.multiply(self._arm_third, force[1:4], more)
        turns -= more
        turns[:2] += normal[1:, None]
        np.multiply(self._stud, push[4:], self._value)
        turns[2] += np.add.reduce(self._value, axis=0)
        forces = force[:3]
        if not self._frame.level:
            forces, turns = self._frame.out_of(forces), self._frame.out_of(turns)
        np.multiply(self._shift_give, forces, more)
        self._state[:3] += more
        np.multiply(self._turn_give, turns, more)
        self._state[3:] += more
        self._scatter()


class _Rows:
    """Four rows of each of k contacts, met one after another."""

    def __init__(self, value, low, high, pull, push, ease, give):
        self._value, self._push, self._ease = value, push, ease
        after = (value[number:] for number in range(1, 5))
        gives = (give[part] for part in _GIVES)
        self._each = list(zip(value, low, high, pull, push, after, gives, strict=True))

    def meet(self) -> None:
        """Moves each row's value to where it wants to be without its own pull, or to the nearer limit."""
        for value, low, high, pull, step, after, give in self._each:
            np.subtract(value, pull, step)
            np.maximum(step, low, out=step)
            np.minimum(step, high, out=step)
            step -= value
            pull += step
            if len(after):
                after += give * step
        self._push *= self._ease


def _columns(values: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(values.T, dtype=np.float32)
