"""How far studs have moved in their sockets."""

import numpy as np

from . import rigid, threads
from .bricks import Bricks
from .contacts import Contacts
from .motions import Motions

_CHUNK = 16384  # joints looked at together: what a cache holds


def steps(bricks: Bricks, contacts: Contacts, joint: np.ndarray, motions: Motions) -> np.ndarray:
    """Sideways step (J,) in mm between the two bricks of each joint: the larger of both axes, at its outermost studs.

    `joint` (J,) are the joints among the contacts. Turns are taken as they are, not as small.
    """
    of_bricks = motions.shift, motions.rotation, bricks.centre
    return threads.joined(lambda part: _steps(contacts, joint[part], *of_bricks), len(joint), _CHUNK)


def _steps(contacts: Contacts, joint: np.ndarray, *of_bricks: np.ndarray) -> np.ndarray:
    of_contacts = contacts.a, contacts.b, contacts.frame, contacts.place, contacts.stud_middle, contacts.stud_half
    a, b, frame, place, middle, half = (each.take(joint, axis=0) for each in of_contacts)
    across = contacts.frames.take(frame, axis=0)
    (shift_a, turn_a, centre_a), (shift_b, turn_b, centre_b) = (
        [each.take(end, axis=0) for each in of_bricks] for end in (a, b)
    )
    turn_a -= np.eye(3)
    turn_b -= np.eye(3)
    apart = shift_b - shift_a
    apart += rigid.turned(turn_b, place - centre_b)
    apart -= rigid.turned(turn_a, place - centre_a)
    twisted = turn_b - turn_a
    swung = [rigid.turned(twisted, across[:, along]) for along in range(2)]
    largest = np.zeros(len(joint))
    for axis in range(2):
        step = rigid.dot(across[:, axis], apart)
        spread = np.zeros(len(joint))
        for along in range(2):
            slope = rigid.dot(across[:, axis], swung[along])
            step = step + middle[:, along] * slope
            spread += half[:, along] * np.abs(slope)
        largest = np.maximum(largest, np.abs(step) + spread)
    return largest
