"""Closest motions to given targets under the rows of `rows.Rows`: a quadratic programme, solved contact by contact.

    minimise  1/2 sum_i |u_i - target_i|^2_W   subject to   low <= row . u <= high  and  least_i <= u_i <= most_i

The dual is solved by block coordinate ascent: a contact's eight rows are met one after another, contacts that share no
brick at once. A sweep goes through all colours and back, and Nesterov's momentum is put between sweeps. The sweep is
symmetric because momentum on a one-way sweep can diverge. The number of sweeps is fixed and every step reads a
contact's two bricks alone, so what a brick does depends on its neighbourhood and not on the rest of the build.

Boyd, Vandenberghe: Convex Optimization, ch. 5 (duality); Nesterov 1983 (momentum).
"""

from math import sqrt

import numpy as np

from .rows import Rows

_BRICK = "V24"  # six float32: one brick's motion, gathered and scattered as one piece


def closest(
    target: np.ndarray, least: np.ndarray, most: np.ndarray, mobility: np.ndarray, rows: Rows, sweeps: int
) -> np.ndarray:
    """Motions (N, 6) close to `target` (N, 6) that meet the rows; mm and radians, float64 in, float32 accuracy.

    `mobility` (2, N): inverse weights of shift and turn, 0 for a brick that stays at its target.
    """
    return _Sweeps(target, least, most, mobility, rows).run(sweeps)


class _Sweeps:
    """The state of a solve. `state` is the target plus the pull of all rows; clipped to the limits it is the motion."""

    def __init__(self, target, least, most, mobility, rows: Rows):
        self.rows = rows
        self.least, self.most = _columns(least), _columns(most)
        self.mobility = mobility.astype(np.float32)
        self.state = np.ascontiguousarray(target, dtype=np.float32)
        self.pull = np.zeros((8, len(rows)), dtype=np.float32)  # multipliers, each times its row's own stiffness

    def run(self, sweeps: int) -> np.ndarray:
        slices = list(self.rows.slices)
        blocks = [_Block(self, rows) for rows in slices]
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
        return np.clip(self.state.T, self.least, self.most).T.astype(np.float64)


class _Block:
    """Contacts of one colour, met at once."""

    def __init__(self, sweeps: _Sweeps, part: slice):
        rows = sweeps.rows
        self._bricks = sweeps.state.view(_BRICK)[:, 0]
        self._a, self._b = rows.a[part], rows.b[part]
        self._pull = sweeps.pull[:, part]
        self._frame = rows.frame_of(part)
        self._limits = [
            np.ascontiguousarray(each[:, ends]) for ends in (self._a, self._b) for each in (sweeps.least, sweeps.most)
        ]
        self._mobility = [np.ascontiguousarray(sweeps.mobility[:, ends]) for ends in (self._a, self._b)]
        self._arm_a, self._arm_b = rows.arm_a[:, part], rows.arm_b[:, part]
        self._half, self._stud = rows.half[:, part], rows.stud[:, part]
        self._low, self._high = rows.low[:, part], rows.high[:, part]
        self._give_normal, self._give_stud = rows.give_normal[:, part], rows.give_stud[:, part]
        self._coupling, self._ease = rows.coupling[:, part], rows.ease[:, part]

    def meet(self) -> None:
        """One pass over the eight rows of each contact; their pull goes onto the two bricks."""
        state_a, state_b = self._gathered(self._a), self._gathered(self._b)
        x, y, n, wx, wy, w = self._step(state_a, state_b)
        push = np.empty_like(self._pull)
        scratch, value = np.empty_like(x), np.empty_like(x)
        half_x, half_y = self._half
        wx *= half_y  # the normal rows see a tip as the way of a corner
        wy *= half_x
        for row, (first, second) in enumerate(
            ((np.add, np.subtract), (np.subtract, np.add), (np.subtract, np.subtract), (np.add, np.add))
        ):
            first(n, wx, out=value)
            second(value, wy, out=value)
            step = self._met(row, value, push)
            for give, of in zip(self._give_normal[3 * row : 3 * row + 3], (n, wx, wy), strict=True):
                np.multiply(give, step, out=scratch)
                of += scratch
        ease = self._ease
        push[:4] *= ease[:4]
        outer, inner = push[0] + push[3], push[1] + push[2]
        force = outer + inner
        tip_x, tip_y = (outer - inner) * half_y, (push[1] + push[3] - push[0] - push[2]) * half_x
        for row, of in enumerate((x, y, w)):
            for along, of_force in zip(self._coupling[3 * row : 3 * row + 3], (force, tip_x, tip_y), strict=True):
                np.multiply(along, of_force, out=scratch)
                of += scratch
        for row, of in enumerate((x, x, y, y)):
            np.multiply(self._stud[row], w, out=value)
            value += of
            step = self._met(4 + row, value, push)
            for give, turned in zip(self._give_stud[3 * row : 3 * row + 3], (x, y, w), strict=True):
                np.multiply(give, step, out=scratch)
                turned += scratch
        push[4:] *= ease[4:]
        twist = self._stud[0] * push[4] + self._stud[1] * push[5] + self._stud[2] * push[6] + self._stud[3] * push[7]
        forces, turns = np.empty((2, 3, len(force)), dtype=np.float32)
        np.add(push[4], push[5], out=forces[0])
        np.add(push[6], push[7], out=forces[1])
        forces[2], turns[0], turns[1], turns[2] = force, tip_x, tip_y, twist
        self._pulled(self._a, state_a, self._mobility[0], -forces, -turns - _cross(self._arm_a, forces))
        self._pulled(self._b, state_b, self._mobility[1], forces, turns + _cross(self._arm_b, forces))

    def _met(self, row: int, value: np.ndarray, push: np.ndarray) -> np.ndarray:
        """Moves a row's value to where it wants to be without its own pull, or to the nearer limit."""
        pull, step = self._pull[row], push[row]
        np.subtract(value, pull, out=step)
        np.maximum(step, self._low[row], out=step)
        np.minimum(step, self._high[row], out=step)
        step -= value
        pull += step
        return step

    def _gathered(self, ends: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(self._bricks.take(ends).view(np.float32).reshape(-1, 6).T)

    def _step(self, state_a: np.ndarray, state_b: np.ndarray):
        """Relative shift and turn of b to a at the contact, in its own axes."""
        least_a, most_a, least_b, most_b = self._limits
        a = np.minimum(np.maximum(state_a, least_a), most_a)
        b = np.minimum(np.maximum(state_b, least_b), most_b)
        shift_a, turn_a, shift_b, turn_b = (self._frame.into(each) for each in (a[:3], a[3:], b[:3], b[3:]))
        apart = shift_b - shift_a + _cross(turn_b, self._arm_b) - _cross(turn_a, self._arm_a)
        return *apart, *(turn_b - turn_a)

    def _pulled(self, ends, state, mobility, forces, turns) -> None:
        state[:3] += mobility[0] * self._frame.out_of(forces)
        state[3:] += mobility[1] * self._frame.out_of(turns)
        self._bricks[ends] = np.ascontiguousarray(state.T).view(_BRICK)[:, 0]


def _columns(values: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(values.T, dtype=np.float32)


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    product, scratch = np.empty_like(a), np.empty_like(a[0])
    for k, i, j in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        np.multiply(a[i], b[j], out=product[k])
        np.multiply(a[j], b[i], out=scratch)
        product[k] -= scratch
    return product
