"""How far studs have moved in their sockets."""

import numpy as np

from . import rigid
from .bricks import Bricks
from .contacts import Contacts
from .motions import Motions


def steps(bricks: Bricks, contacts: Contacts, joint: np.ndarray, motions: Motions) -> np.ndarray:
    """Sideways step (J,) in mm between the two bricks of each joint: the larger of both axes, at its outermost studs.

    `joint` (J,) are the joints among the contacts. Turns are taken as they are, not as small.
    """
    shift, rotation = motions.shift, motions.rotation - np.eye(3)
    a, b, across, place = contacts.a[joint], contacts.b[joint], contacts.axes[joint, :2], contacts.place[joint]
    middle, half = contacts.stud_middle[joint], contacts.stud_half[joint]
    apart = shift[b] - shift[a]
    apart += rigid.turned(rotation[b], place - bricks.centre[b])
    apart -= rigid.turned(rotation[a], place - bricks.centre[a])
    twisted = rotation[b] - rotation[a]
    largest = np.zeros(len(joint))
    for axis in range(2):
        step = rigid.dot(across[:, axis], apart)
        spread = np.zeros(len(joint))
        for along in range(2):
            slope = rigid.dot(across[:, axis], rigid.turned(twisted, across[:, along]))
            step = step + middle[:, along] * slope
            spread += half[:, along] * np.abs(slope)
        largest = np.maximum(largest, np.abs(step) + spread)
    return largest
