"""The limits of a problem: what each row may come to, and the rows of contacts with them.

Corners keep a margin, and in joints open by a lift at most; studs keep their play, less a margin.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from .. import rigid
from ..build.cuts import on_walls
from ..build.openings import MISFIT_MM
from ..build.touching import JOINT, LODGED, REST
from ..remembered import digest, remembered
from . import colouring
from . import rows as constraint
from .problem import Problem
from .rows import Rows
from .targets import UNEVEN, rise

MARGIN_MM = 5e-4  # kept clear of every limit: pays for what the rows, being linear, leave out
_HELD_MARGIN_MM = 2e-3  # the same of seats and studs, where much presses; pays for what the last sweep leaves too
_HELD_PART = 12.0  # of a lift or a play under 0.024 mm that margin takes one part in so many; between 4 and 24 no
# brick has to want less for it: with 2 little is left of the limit, with 100 all is sent back
_GAP_SHARE = 0.5  # of a gap that a margin takes at most: half of it may close
_MOULDED = 0.9  # of the clearance: a wider gap under studs is what the mould leaves off, and is pressed home
_FLATTEST = 0.38  # of a circle's radius: the shorter half of the box in it, that of an octagon's side
_NOWHERE_MM = 1e-9  # added to where studs want to go: the box of those that want to go nowhere is a square


@dataclass(frozen=True)
class Tighter:
    """How much tighter than need be the limits of K contacts are drawn, where bodies did not keep what rows did."""

    deeper: np.ndarray  # (K,) mm that corners are kept apart beyond their limit
    narrower: np.ndarray  # (K,) mm that are taken off the play of studs

    @classmethod
    def nowhere(cls, contacts: int) -> "Tighter":
        return cls(np.zeros(contacts), np.zeros(contacts))

    def by(self, contact: np.ndarray, depth: np.ndarray, over: np.ndarray) -> "Tighter":
        """Tighter still at some contacts, by how far (mm) their bodies cut and their studs are beyond their play."""
        deeper, narrower = self.deeper.copy(), self.narrower.copy()
        for limit, beyond in ((deeper, depth), (narrower, over)):
            limit[contact] += np.where(beyond > 0, beyond + MARGIN_MM, 0.0)
        return Tighter(deeper, narrower)

    def but_for(self, near: np.ndarray) -> "Tighter":
        """As tight, but nowhere at some contacts (K,)."""
        return Tighter(np.where(near, 0.0, self.deeper), np.where(near, 0.0, self.narrower))


def first_rows(problem: Problem) -> Rows:
    """Rows of all that is seated; but for their limits they are remembered."""
    told = problem.place and problem.place + digest(problem.mobile, problem.ties.root)  # `place` tells bricks' sizes
    held: Rows = remembered("rows", told, partial(_unlimited, problem, problem.seated, problem.merged.mobility))
    return held.limited(*limits(problem, problem.seated))


def rows(problem: Problem, chosen: np.ndarray, mobility: np.ndarray, tighter: Tighter | None = None) -> Rows:
    """Rows of the contacts chosen (K,) between bricks of `mobility` (2, N)."""
    return _unlimited(problem, chosen, mobility).limited(*limits(problem, chosen, tighter))


def _unlimited(problem: Problem, chosen: np.ndarray, mobility: np.ndarray) -> Rows:
    touching, chosen = problem.carried, np.flatnonzero(chosen)
    level, colour = constraint.is_level(touching.frames)[touching.frame[chosen]], np.zeros(len(chosen), np.int64)
    for alike in (level, ~level):  # met apart, so on their own: the few that are not level then are in few colours
        a, b, kind = (each[chosen[alike]] for each in (touching.a, touching.b, touching.kind))
        priority = colouring.priorities(problem.bricks.key, a, b, kind)
        colour[alike] = colouring.colours(a, b, mobility[0] > 0, priority)
    return constraint.rows(touching, chosen, problem.bricks.centre, mobility, colour)


def reachable(play_mm: np.ndarray | float) -> np.ndarray:
    """How far (mm) a stud may go of its play."""
    return np.asarray(play_mm) - np.minimum(_HELD_MARGIN_MM, play_mm / _HELD_PART)


def limits(problem: Problem, chosen: np.ndarray, tighter: Tighter | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest value (C, 3) of the rows of the contacts chosen (K,): of corners, of studs in x and in y."""
    touching, chosen = problem.touching, np.flatnonzero(chosen)
    tighter = tighter or Tighter.nowhere(len(touching))
    low, high = np.full((len(chosen), 3), -np.inf), np.full((len(chosen), 3), np.inf)
    kind, gap = touching.kind[chosen], touching.gap[chosen]
    joint, lodged = kind == JOINT, kind == LODGED
    low[:, 0] = _margin(problem, chosen) - np.maximum(gap, 0.0) + tighter.deeper[chosen]
    high[joint, 0] = _opening(problem, chosen)[joint]
    held = joint | lodged
    reach = reachable(problem.play[chosen])
    play = np.maximum(reach - tighter.narrower[chosen], 0.0)[held]
    high[held, 1:] = play[:, None] * _box(problem, chosen[held])
    low[held, 1:] = -high[held, 1:]
    high[lodged, 0] = reach[lodged]
    low[lodged, 0] = -high[lodged, 0]
    closed = problem.ties.closed[chosen]
    low[closed, 0] = high[closed, 0] = 0.0
    return low, high


def _margin(problem: Problem, contact: np.ndarray) -> np.ndarray:
    """How far (C,) in mm bodies are kept clear of each other at some contacts."""
    touching, pressed = problem.touching, problem.goal.pressed
    a, b, gap, kind = (each[contact] for each in (touching.a, touching.b, touching.gap, touching.kind))
    lift = problem.fit.lift_mm * problem.looseness
    shut = problem.fit.clearance_mm < MISFIT_MM  # no wall has a gap of which a margin could take a share
    open_ = MARGIN_MM if shut else np.minimum(MARGIN_MM, _GAP_SHARE * np.maximum(gap, 0.0))
    seat = (kind == JOINT) | (kind == REST)
    margin = np.where(seat, min(_HELD_MARGIN_MM, lift / _HELD_PART), open_)
    margin = np.where(problem.misfit[contact], _HELD_MARGIN_MM, margin)  # much presses there
    margin[pressed[a] & pressed[b]] = 0.0
    return margin


def _opening(problem: Problem, contact: np.ndarray) -> np.ndarray:
    """How far (C,) in mm joints may open beyond their gap: by a lift, but in any case by what the lean makes bricks
    rise from each other, and by what its walk adds to that in a course. Beside bricks five courses high a lift is less:
    with that alone a contact in four bricks is sent back and the build stays a fifth lower."""
    bricks, touching, fit = problem.bricks, problem.touching, problem.fit
    a, b, gap = (each[contact] for each in (touching.a, touching.b, touching.gap))
    climb = rise(fit, problem.looseness) * np.abs(bricks.low[b, 2] - bricks.low[a, 2])
    found = np.maximum(fit.lift_mm * problem.looseness, (1.0 + UNEVEN) * climb) - gap
    open_ = gap < _MOULDED * fit.clearance_mm  # in the export itself: it need not close
    wide = np.flatnonzero(~open_ & (touching.kind[contact] == JOINT))
    open_[wide] = ~on_walls(bricks, touching.only(contact[wide]))  # nor where no mould leaves anything off
    found[open_] = np.maximum(found[open_], 0.0)
    return found


def _box(problem: Problem, joint: np.ndarray) -> np.ndarray:
    """Half sizes (J, 2) of the box that stands in for the circle of radius 1 that studs move in: its corner lies on the
    circle, on the way to where the outermost studs want to go."""
    touching = problem.touching
    centre, wanted = rigid.across(problem.bricks.centre), rigid.across(problem.goal.wanted)
    x, y, normal = rigid.columns(touching.frames).take(touching.frame.take(joint), axis=-1)
    of_contacts = touching.place, touching.stud_middle, touching.stud_half
    place, middle, span = (rigid.across(each.take(joint, axis=0)) for each in of_contacts)
    at = place + middle[0] * x + middle[1] * y

    def goes(end: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where a brick wants to go there (3, J), and how it wants to turn about the normal (J,)."""
        shift, turn = wanted.take(end, axis=-1).reshape(2, 3, -1)
        return shift + rigid.crossed(turn, at - centre.take(end, axis=-1)), rigid.weighted(turn, normal)

    (way_a, twist_a), (way_b, twist_b) = (goes(end.take(joint)) for end in (touching.a, touching.b))
    way, twist = way_b - way_a, np.abs(twist_b - twist_a)
    farthest = np.abs([rigid.weighted(way, x), rigid.weighted(way, y)]) + span[::-1] * twist + _NOWHERE_MM
    share = np.clip(_of_length_1(farthest), _FLATTEST, np.sqrt(1.0 - _FLATTEST**2))
    return _of_length_1(share).T


def _of_length_1(vectors: np.ndarray) -> np.ndarray:
    """Vectors (2, J) at their directions."""
    x, y = vectors
    return vectors / np.sqrt(x * x + y * y)
