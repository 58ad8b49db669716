"""How far studs have moved in their sockets."""

import numpy as np

from . import rigid
from .bricks import Bricks
from .contacts import Contacts


def steps(bricks: Bricks, joints: Contacts, shift: np.ndarray, turn: np.ndarray) -> np.ndarray:
    """Sideways step (J,) in mm between the two bricks of each joint: the larger of both axes, at its outermost studs.

    `shift` (N, 3) and `turn` (N, 3) are the bricks' motions in mm and radians; the turns are taken as they are, not as
    small.
    """
    rotation = rigid.rotation(turn) - np.eye(3)
    largest = np.zeros(len(joints))
    for corner in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        across = joints.stud_middle + joints.stud_half * np.array(corner)
        stud = joints.place + across[:, :1] * joints.axes[:, 0] + across[:, 1:] * joints.axes[:, 1]
        ways = (shift[ends] + rigid.turned(rotation[ends], stud - bricks.centre[ends]) for ends in (joints.a, joints.b))
        apart = np.subtract(*ways)
        for n in range(2):
            largest = np.maximum(largest, np.abs(rigid.dot(apart, joints.axes[:, n])))
    return largest
