"""How far studs have moved in their sockets."""

import numpy as np

from .. import rigid, threads
from ..build.bricks import Bricks
from ..build.touching import LODGED, Contacts
from .motions import Motions

_CHUNK = threads.CHUNK // 2  # joints looked at together


def steps(bricks: Bricks, contacts: Contacts, joint: np.ndarray, motions: Motions) -> np.ndarray:
    """Sideways step (J,) in mm between the two bricks of each joint: the longest at its outermost studs. What lies
    in an opening has play along its axis too: there it is the longer of the two.

    `joint` (J,) are the joints among the contacts. Turns are taken as they are, not as small.
    """
    of_bricks = _of_bricks(bricks, motions)
    return threads.joined(lambda part: _steps(contacts, joint[part], of_bricks), len(joint), _CHUNK)


def opened(bricks: Bricks, contacts: Contacts, seam: np.ndarray, motions: Motions) -> np.ndarray:
    """How far apart (S,) in mm two faces stand at the middle of what they share; `seam` (S,) are contacts."""
    of_bricks = _of_bricks(bricks, motions)
    place = rigid.across(contacts.place.take(seam, axis=0))
    (way_a, _), (way_b, _) = (
        _seen_at(place, *(each.take(end.take(seam), axis=-1) for each in of_bricks)) for end in (contacts.a, contacts.b)
    )
    normal = rigid.columns(contacts.frames)[2].take(contacts.frame.take(seam), axis=-1)
    return contacts.gap.take(seam) + rigid.weighted(normal, way_b - way_a)


def _steps(contacts: Contacts, joint: np.ndarray, of_bricks: tuple[np.ndarray, ...]) -> np.ndarray:
    of_contacts = contacts.place, contacts.stud_middle, contacts.stud_half
    place, middle, half = (rigid.across(each.take(joint, axis=0)) for each in of_contacts)
    (way_a, turn_a), (way_b, turn_b) = (
        _seen_at(place, *(each.take(end.take(joint), axis=-1) for each in of_bricks))
        for end in (contacts.a, contacts.b)
    )
    across = rigid.columns(contacts.frames)[:2].take(contacts.frame.take(joint), axis=-1)
    way, turn = way_b - way_a, turn_b - turn_a
    swung = [rigid.weighted(turn, axis) for axis in across]
    ways = []
    for axis in across:
        slopes = [rigid.weighted(axis, each) for each in swung]
        step = rigid.weighted(axis, way) + rigid.weighted(middle, slopes)
        ways.append((step, *(reach * slope for reach, slope in zip(half, slopes, strict=True))))
    longest = np.zeros(len(joint))
    for x, y in ((1, 1), (1, -1), (-1, 1), (-1, -1)):  # the studs at the corners
        first, second = (step + x * along + y * aside for step, along, aside in ways)
        longest = np.maximum(longest, first * first + second * second)
    lodged = np.flatnonzero(contacts.kind.take(joint) == LODGED)
    if len(lodged):
        along = rigid.weighted(contacts.frames[contacts.frame[joint[lodged]], 2].T, way[:, lodged])
        longest[lodged] = np.maximum(longest[lodged], along * along)
    return np.sqrt(longest)


def _of_bricks(bricks: Bricks, motions: Motions) -> tuple[np.ndarray, ...]:
    """What `_seen_at` needs of all bricks."""
    more = rigid.columns(motions.rotation.swapaxes(1, 2)) - np.eye(3)[:, :, None]
    return rigid.across(motions.shift), more, rigid.across(bricks.centre)


def _seen_at(place, shift, more, centre) -> tuple[np.ndarray, np.ndarray]:
    """How points (3, J), one of each brick, move, and how much more a mm along x, y and z (3, 3, J)."""
    return shift + rigid.weighted(more, place - centre), more
