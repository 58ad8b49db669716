"""How contacts of one colour are met, told plainly.

This is what `tape.Block` does, written to be read: the tests hold the two against each other to the last bit. The trade
calls it a step of projected Gauss-Seidel on the multipliers of the rows, or of sequential impulses: each row in turn is
pushed to where it would be without its own force, or to the nearer of its limits, and what that does to the rows after
it and to the two bricks is added up.
"""

import numpy as np

from .. import rigid
from .rows import OF_ROWS, Rows


def meet(rows: Rows, part: slice, mobility: np.ndarray, motions: np.ndarray, pull: np.ndarray) -> None:
    """Meets the contacts in a part of one colour: the bricks' `motions` (6, N) and the `pull` (8, C) of the rows, how
    far each one's force moves its own value, change in place. All in float32, `mobility` (2, N) too."""
    a, b, frame, held = rows.a[part], rows.b[part], rows.frame_of(part), pull[:, part]
    arm, half, stud, mass = (each[..., part] for each in (rows.arm[[2, 0, 1]], rows.half, rows.stud, rows.mass))
    low, high = (each[..., part].repeat(OF_ROWS, axis=0) for each in (rows.low, rows.high))

    motion = np.stack([motions[:, a], motions[:, b]], axis=1)
    shift, turn = frame.into(motion[:3]), frame.into(motion[3:])
    way = shift + rigid.crossed(turn, arm)
    (wx, wy, w), (x, y, n) = turn[:, 1] - turn[:, 0], way[:, 1] - way[:, 0]

    wx, wy = half[0] * wx, half[1] * wy  # a corner sees a tip as its way
    corners = [n + wx - wy, n - wx + wy, n - wx - wy, n + wx + wy]
    first, second, third, fourth = settled(corners, low[:4], high[:4], held[:4], rows.give_corner[:, part]) * mass[:4]
    outer, inner = first + fourth, second + third
    load = np.stack([outer + inner, (outer - inner) * half[0], ((fourth - first) - (third - second)) * half[1]])

    w, x, y = np.stack([w, x, y]) + rigid.weighted(rows.coupling[..., part], load)
    studs = [stud[0] * w + x, stud[1] * w + x, stud[2] * w + y, stud[3] * w + y]
    push = settled(studs, low[4:], high[4:], held[4:], rows.give_stud[:, part]) * mass[4:]
    twist = stud * push

    force = np.stack([push[0] + push[1], push[2] + push[3], load[0]])[:, None]
    torque = np.stack([load[1], load[2], (twist[0] + twist[2]) + (twist[1] + twist[3])])[:, None]
    force, torque = frame.back(force), frame.back(rigid.crossed(arm, force) + torque)
    for end, brick, sign in ((0, a, -1.0), (1, b, 1.0)):  # b is pushed, a pushed back
        shifts, turns = np.float32(sign) * mobility[:, brick]
        motions[:3, brick] += shifts * force[:, 0]
        motions[3:, brick] += turns * torque[:, end]


def settled(
    values: list[np.ndarray], low: np.ndarray, high: np.ndarray, pull: np.ndarray, give: np.ndarray
) -> np.ndarray:
    """How far (4, k) each of four rows goes; the `pull` (4, k) of its own force grows by as much.

    `give` (6, k) tells what the way of a row does to the rows after it: 12 13 14 23 24 34.
    """
    ways, values, gives = [], list(values), iter(list(give))
    for row in range(len(values)):
        ways.append(np.clip(values[row] - pull[row], low[row], high[row]) - values[row])
        for later in range(row + 1, len(values)):
            values[later] = values[later] + next(gives) * ways[row]
    pull += ways
    return np.stack(ways)
