"""The problem of a fit: what bricks would do, what they must keep, and the rows that say so. Nothing in it changes."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from .. import rigid
from ..build.bricks import Bricks, Pieces
from ..build.contacts import depth_at_rest
from ..build.cuts import on_walls
from ..build.openings import MISFIT_MM
from ..build.touching import JOINT, LODGED, REST, SIDE, Contacts
from ..presets import preset
from ..remembered import digest, remembered
from . import colouring
from . import rows as constraint
from .rows import Rows
from .targets import UNEVEN, Targets, rise
from .ties import Ties

MARGIN_MM = 5e-4  # kept clear of every limit: pays for what the rows, being linear, leave out
_HELD_MARGIN_MM = 2e-3  # the same of seats and studs, where much presses; pays for what the last sweep leaves too
_HELD_PART = 12.0  # of a lift or a play under 0.024 mm that margin takes one part in so many; between 4 and 24 no
# brick has to want less for it: with 2 little is left of the limit, with 100 all is sent back
_GAP_SHARE = 0.5  # of a gap that a margin takes at most: half of it may close
_MOULDED = 0.9  # of the clearance: a wider gap under studs is what the mould leaves off, and is pressed home
_STIFF_MM = 1e-3  # joints with less play and lift hold like glue
_NEAR_MISFIT = 2  # contacts on from bricks that do not fit, what holds them is odd too
_FLATTEST = 0.38  # of a circle's radius: the shorter half of the box in it, that of an octagon's side
_NOWHERE_MM = 1e-9  # added to where studs want to go: the box of those that want to go nowhere is a square
_BOTH_WAYS = 2.0**0.5  # what lies in an opening goes across and along at once, together by its gap


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


@dataclass(frozen=True)
class Problem:
    """One build's targets and limits, K contacts of N bricks."""

    bricks: Bricks
    touching: Contacts
    goal: Targets
    shrink: np.ndarray  # (N, 3)
    fit: preset.Fit
    looseness: float
    place: bytes  # tells this build's contacts from all others; without it nothing is remembered
    ties: Ties
    pieces: Pieces  # bodies at rest, shrunk
    depth: np.ndarray  # (K,) mm that they lie in each other in the export
    play: np.ndarray  # (K,) mm that what is held may move

    @classmethod
    def of(
        cls,
        bricks: Bricks,
        touching: Contacts,
        goal: Targets,
        shrink: np.ndarray,
        fit: preset.Fit,
        looseness: float,
        place: bytes = b"",
    ) -> "Problem":
        mobile = goal.mobility[0] > 0
        told = place and place + digest(mobile)
        ties: Ties = _remembered("ties", told, partial(Ties.of, bricks, touching, mobile))
        pieces: Pieces = _remembered("pieces", place, partial(bricks.pieces, shrink))
        depth: np.ndarray = _remembered("depth", place, partial(depth_at_rest, pieces, touching))
        opening = np.where(touching.kind == LODGED, touching.gap / _BOTH_WAYS, np.inf)
        play = np.minimum(fit.play_mm, opening)
        return cls(bricks, touching, goal, shrink, fit, looseness, place, ties, pieces, depth, play)

    @property
    def stiff(self) -> np.ndarray:
        """Pairs of bricks (P, 2) that a joint holds which leaves them no way at all."""
        if max(self.fit.play_mm, self.fit.lift_mm * self.looseness) >= _STIFF_MM:
            return np.zeros((0, 2), dtype=np.int64)
        joint = self.touching.kind == JOINT
        return np.stack([self.touching.a[joint], self.touching.b[joint]], axis=1)

    def joined(self, pairs: np.ndarray) -> "Problem":
        """The same with pairs of bricks (P, 2) that go as one."""
        if not len(pairs):
            return self
        return replace(self, ties=self.ties.joined(pairs))

    def wanting(self, wanted: np.ndarray) -> "Problem":
        """The same with other wanted motions (N, 6)."""
        return replace(self, goal=replace(self.goal, wanted=wanted))

    @cached_property
    def mobile(self) -> np.ndarray:
        """(N,) which bricks move."""
        return self.goal.mobility[0] > 0

    @cached_property
    def radius(self) -> np.ndarray:
        """(N,) mm from the middle of each body to its farthest corner."""
        return rigid.length(self.bricks.half)

    @cached_property
    def carried(self) -> Contacts:
        """The contacts, between those that carry the bricks."""
        return self.ties.carried(self.touching)

    @cached_property
    def apart(self) -> np.ndarray:
        """(K,) which contacts are between bricks that do not go as one."""
        return self.carried.a != self.carried.b

    @cached_property
    def slides(self) -> np.ndarray:
        """(K,) which contacts are of bricks that slide along others: solved as if free, they then go with these."""
        slides = np.zeros(len(self.bricks), dtype=bool)
        slides[self.ties.on[:, 1]] = True
        return (slides[self.carried.a] | slides[self.carried.b]) & ~self.ties.closed

    @cached_property
    def merged(self) -> Targets:
        """The targets of the bricks that carry others: what all of these want on average."""
        ends = [each[self.apart] for each in (self.carried.a, self.carried.b)] if self.ties else [np.zeros(0, int)]
        crowded = np.bincount(np.concatenate(ends), minlength=len(self.bricks)) > colouring.MOST
        return self.ties.merged(self.goal, crowded)

    @cached_property
    def seated(self) -> np.ndarray:
        """(K,) which contacts have rows from the start: seats and what is held. Seams hardly ever bind."""
        return (self.touching.seats | self.touching.held | self.ties.closed | self.misfit) & self.apart

    @cached_property
    def misfit(self) -> np.ndarray:
        """(K,) where bodies lie in each other in the export, or stand wall to wall and no mould leaves anything off."""
        kind, gap = self.touching.kind, self.touching.gap
        shut = (kind == SIDE) & (gap < MISFIT_MM) & (self.fit.clearance_mm < MISFIT_MM)
        return (kind != LODGED) & (self.depth > MISFIT_MM) | shut

    @cached_property
    def odd(self) -> np.ndarray:
        """(K,) which contacts are near such, or near what slides without play."""
        near = self.around(np.flatnonzero(self.misfit | self.ties.closed), _NEAR_MISFIT, self.seated)
        return near[self.touching.a] | near[self.touching.b]

    def kept(self, motions: np.ndarray) -> np.ndarray:
        """Motions (N, 6) of which bricks without play go as those that they are tied to."""
        return self.ties.kept(motions, self.mobile)

    def around(self, contact: np.ndarray, hops: int, linked: np.ndarray) -> np.ndarray:
        """Which bricks (N,) stand within some hops of some contacts, over those that are `linked` (K,)."""
        near, carried, moves = np.zeros(len(self.bricks), dtype=bool), self.carried, self.mobile
        near[carried.a[contact]] = near[carried.b[contact]] = True
        a, b = carried.a[linked], carried.b[linked]
        for _ in range(hops):
            on = near & moves  # nothing goes on through what stays
            reached = (near[a] != near[b]) & (on[a] | on[b])
            if not reached.any():
                break
            near[a[reached]] = near[b[reached]] = True
        return near[self.ties.root]

    def first_rows(self) -> Rows:
        """Rows of all that is seated; but for their limits they are remembered."""
        work = partial(self._unlimited, self.seated, self.merged.mobility)
        told = self.place and self.place + digest(self.mobile, self.ties.root)  # `place` tells the bricks' sizes
        held: Rows = _remembered("rows", told, work)
        return held.limited(*limits(self, self.seated))

    def rows(self, chosen: np.ndarray, mobility: np.ndarray, tighter: Tighter | None = None) -> Rows:
        """Rows of the contacts chosen (K,) between bricks of `mobility` (2, N)."""
        return self._unlimited(chosen, mobility).limited(*limits(self, chosen, tighter))

    def _unlimited(self, chosen: np.ndarray, mobility: np.ndarray) -> Rows:
        touching, chosen = self.carried, np.flatnonzero(chosen)
        level, colour = constraint.is_level(touching.frames)[touching.frame[chosen]], np.zeros(len(chosen), np.int64)
        for alike in (level, ~level):  # met apart, so on their own: the few that are not level then are in few colours
            a, b, kind = (each[chosen[alike]] for each in (touching.a, touching.b, touching.kind))
            priority = colouring.priorities(self.bricks.key, a, b, kind)
            colour[alike] = colouring.colours(a, b, mobility[0] > 0, priority)
        return constraint.rows(touching, chosen, self.bricks.centre, mobility, colour)


def _remembered(name: str, told: bytes, work: Callable):
    return remembered(name, told, work) if told else work()


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
