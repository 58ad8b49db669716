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
    slope = motions.rotation - np.eye(3)
    ways = np.concatenate(
        [(motions.shift - rigid.turned(slope, bricks.centre))[:, None], rigid.transpose(slope)], axis=1
    )
    return threads.joined(lambda part: _steps(contacts, joint[part], ways.reshape(-1, 12)), len(joint), _CHUNK)


def _steps(contacts: Contacts, joint: np.ndarray, ways: np.ndarray) -> np.ndarray:
    """`ways` (N, 12): how a brick's point moves at the build's origin, and how much more a mm along x, y and z."""
    a, b, frame = (each.take(joint) for each in (contacts.a, contacts.b, contacts.frame))
    apart = ways.take(b, axis=0)
    apart -= ways.take(a, axis=0)
    origin, *columns = np.ascontiguousarray(apart.T).reshape(4, 3, -1)  # sums along a stack are quick
    place, middle, half = (
        each.take(joint, axis=0).T for each in (contacts.place, contacts.stud_middle, contacts.stud_half)
    )
    x, y = np.ascontiguousarray(contacts.frames.take(frame, axis=0)[:, :2].transpose(1, 2, 0))
    moved = origin + rigid.weighted(columns, place)
    swung = [rigid.weighted(columns, along) for along in (x, y)]
    largest = np.zeros(len(joint))
    for axis in (x, y):
        slopes = [rigid.weighted(axis, each) for each in swung]
        step = rigid.weighted(axis, moved) + rigid.weighted(middle, slopes)
        largest = np.maximum(largest, np.abs(step) + rigid.weighted(half, np.abs(slopes)))
    return largest
