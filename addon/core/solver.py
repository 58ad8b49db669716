"""Closest motions to given targets under the rows of `rows.Rows`: a quadratic programme, solved contact by contact.

    minimise  1/2 sum_i |u_i - target_i|^2_W   subject to   low <= row . u <= high  and  least_i <= u_i <= most_i

The dual is solved by block coordinate ascent: a contact's eight rows are met one after another, contacts that share no
brick at once. A sweep goes through all colours and back, and Nesterov's momentum is put between sweeps. The sweep is
symmetric because momentum on a one-way sweep can diverge. The number of sweeps is fixed and every step reads a
contact's two bricks alone, so what a brick does depends on its neighbourhood and not on the rest of the build.

Boyd, Vandenberghe: Convex Optimization, ch. 5 (duality); Nesterov 1983 (momentum).
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from .rows import Rows

_CORNERS = ((np.add, np.subtract), (np.subtract, np.add), (np.subtract, np.subtract), (np.add, np.add))
_BRICK = "V24"  # six float32: one brick's motion, gathered and scattered as one piece


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
        self.state = np.ascontiguousarray(target, dtype=np.float32)
        self.pull = np.zeros((8, len(rows)), dtype=np.float32)  # multipliers, each times its row's own stiffness
        self.push = np.empty((8, np.diff(rows.starts).max(initial=0)), dtype=np.float32)  # of the block being met

    def run(self, sweeps: int, forces: np.ndarray | None) -> Closest:
        rows = self.rows
        blocks = [_Block(self, part) for part in rows.slices]
        if forces is not None:
            np.divide(forces[rows.order].T, rows.ease, out=self.pull)
            for block in blocks:
                block.begin()
        before = self.state.copy(), self.pull.copy()
        momentum = 1.0
        for sweep in range(sweeps):
            for block in (*blocks, *reversed(blocks)):
                block.meet()
            if sweep < sweeps - 1:
                following = 0.5 * (1.0 + sqrt(1.0 + 4.0 * momentum * momentum))
                weight, momentum = np.float32((momentum - 1.0) / following), following
                for now, old in zip((self.state, self.pull), before, strict=True):
                    np.subtract(now, old, out=old)
                    old *= weight
                    old += now  # the point ahead
                    swap = now.copy()
                    now[...] = old
                    old[...] = swap
        found = np.empty_like(self.pull.T)
        found[rows.order] = (self.pull * rows.ease).T
        return Closest(np.clip(self.state.T, self.least, self.most).T.astype(np.float64), found)


class _Block:
    """Contacts of one colour, met at once. Both ends of k contacts stand side by side, as arrays (..., 2, k)."""

    def __init__(self, sweeps: _Sweeps, part: slice):
        rows = sweeps.rows
        ends = np.concatenate([rows.a[part], rows.b[part]])
        self._bricks, self._ends = sweeps.state.view(_BRICK)[:, 0], ends
        self._least, self._most, mobility = (
            each[:, ends].reshape(len(each), 2, -1) for each in (sweeps.least, sweeps.most, sweeps.mobility)
        )
        pushed = np.array([[-1.0], [1.0]], dtype=np.float32)  # b is pushed, a pushed back
        self._shift_give, self._turn_give = mobility * pushed
        self._pull, self._ease = sweeps.pull[:, part], rows.ease[:, part]
        self._push = sweeps.push[:, : part.stop - part.start]
        self._frame = rows.frame_of(part)
        arms = np.stack([rows.arm_a[:, part], rows.arm_b[:, part]], axis=1)
        self._arm_second, self._arm_third = arms[[1, 2, 0]], arms[[2, 0, 1]]
        self._half = rows.half[::-1, part]  # what wx and wy see a corner at
        self._stud, self._coupling = rows.stud[:, part], rows.coupling[:, :, part]
        gives = (*rows.give_normal[:, :, part], *rows.give_stud[:, :, part])
        self._rows = list(zip(self._pull, rows.low[:, part], rows.high[:, part], self._push, gives, strict=True))

    def begin(self) -> None:
        """Puts the pull that the rows begin with onto the two bricks."""
        np.multiply(self._pull, self._ease, out=self._push)
        self._pulled(self._gathered(), self._along_normal())

    def meet(self) -> None:
        """One pass over the eight rows of each contact; their pull goes onto the two bricks."""
        state = self._gathered()
        seen = self._seen(state)
        self._meet_corners(seen[3:])
        normal = self._along_normal()
        seen[:3] += np.add.reduce(self._coupling * normal, axis=1)
        self._meet_studs(seen[:3])
        self._pulled(state, normal)

    def _meet_corners(self, seen: np.ndarray) -> None:
        seen[1:] *= self._half  # the normal rows see a tip as the way of a corner
        n, wx, wy = seen
        value = np.empty_like(n)
        for row, (first, second) in zip(self._rows[:4], _CORNERS, strict=True):
            first(n, wx, out=value)
            second(value, wy, out=value)
            seen += _met(row, value)
        self._push[:4] *= self._ease[:4]

    def _meet_studs(self, seen: np.ndarray) -> None:
        w, x, y = seen
        value = np.empty_like(w)
        for row, arm, of in zip(self._rows[4:], self._stud, (x, x, y, y), strict=True):
            np.multiply(arm, w, out=value)
            value += of
            seen += _met(row, value)
        self._push[4:] *= self._ease[4:]

    def _along_normal(self) -> np.ndarray:
        """Force (3, k) of the corners along n, and their turns about x and y."""
        first, second, third, fourth = self._push[:4]
        found = np.empty((3, len(first)), dtype=np.float32)
        outer, inner = first + fourth, second + third
        np.add(outer, inner, out=found[0])
        np.subtract(outer, inner, out=found[1])
        np.subtract(second + fourth, first + third, out=found[2])
        found[1:] *= self._half
        return found

    def _gathered(self) -> np.ndarray:
        """States (6, 2, k) of both ends."""
        packed = self._bricks.take(self._ends).view(np.float32).reshape(-1, 6)
        return np.ascontiguousarray(packed.T).reshape(6, 2, -1)

    def _seen(self, state: np.ndarray) -> np.ndarray:
        """How b moves against a at the contact, in its own axes (6, k): w, x, y, n, wx, wy."""
        motion = np.empty((8, *state.shape[1:]), dtype=np.float32)  # a turn's x and y again for cross products
        np.maximum(state, self._least, out=motion[:6])
        np.minimum(motion[:6], self._most, out=motion[:6])
        if not self._frame.level:
            motion[:3], motion[3:6] = self._frame.into(motion[:3]), self._frame.into(motion[3:6])
        motion[6:] = motion[3:5]
        way = motion[4:7] * self._arm_third
        way -= motion[5:] * self._arm_second
        way += motion[:3]
        seen = np.empty((6, state.shape[2]), dtype=np.float32)
        np.subtract(way[:, 1], way[:, 0], out=seen[1:4])
        np.subtract(motion[3:5, 1], motion[3:5, 0], out=seen[4:])
        np.subtract(motion[5, 1], motion[5, 0], out=seen[0])
        return seen

    def _pulled(self, state: np.ndarray, normal: np.ndarray) -> None:
        push = self._push
        force = np.empty((5, 1, push.shape[1]), dtype=np.float32)  # x, y, z, and x, y again for cross products
        np.add(push[4:8:2], push[5:8:2], out=force[:2, 0])
        force[2], force[3:] = normal[0], force[:2]
        turns = self._arm_second * force[2:]
        turns -= self._arm_third * force[1:4]
        turns[:2] += normal[1:, None]
        turns[2] += np.add.reduce(self._stud * push[4:], axis=0)
        forces = force[:3]
        if not self._frame.level:
            forces, turns = self._frame.out_of(forces), self._frame.out_of(turns)
        state[:3] += self._shift_give * forces
        state[3:] += self._turn_give * turns
        self._bricks.put(self._ends, np.ascontiguousarray(state.reshape(6, -1).T).view(_BRICK)[:, 0])


def _met(row: tuple[np.ndarray, ...], value: np.ndarray) -> np.ndarray:
    """Moves a row's value to where it wants to be without its own pull, or to the nearer limit; what that gives."""
    pull, low, high, step, give = row
    np.subtract(value, pull, out=step)
    np.maximum(step, low, out=step)
    np.minimum(step, high, out=step)
    step -= value
    pull += step
    return give * step


def _columns(values: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(values.T, dtype=np.float32)
