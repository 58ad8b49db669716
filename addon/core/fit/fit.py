"""The fit: motions close to seeded targets that joints, neighbours and tolerances allow together.

bricks ─▶ contacts ─▶ targets ─▶ closest motions ─▶ exact check ─▶ repair where bodies still cut
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from .. import rigid
from ..build import interference
from ..build.bricks import Bricks, Pieces
from ..build.contacts import depth_at_rest
from ..build.touching import JOINT, LODGED, REST, Contacts
from ..parts.shells import connected
from ..presets import preset
from ..remembered import digest, remembered
from . import colouring, play
from . import rows as constraint
from .budget import Budget
from .clearance import met
from .motions import Motions, moved
from .rows import Rows
from .solver import closest
from .targets import Targets, rise, targets
from .ties import Ties

MARGIN_MM = 5e-4  # kept clear of every limit: pays for what the rows, being linear, leave out
_HELD_MARGIN_MM = 2e-3  # the same of seats and studs, where much presses; pays for what the last sweep leaves too
SWEEPS = 9  # brings the objective within 0.1 % of the optimum at a looseness of 1
_AGAIN = (6, 18, 36, 36, 36, 72, 72, 144, 144)  # sweeps of each attempt at all that bricks want, ever wider around
REPAIRS = len(_AGAIN)
_ENOUGH = 200  # sweeps over all contacts after which bricks want less: small builds take no more than that
_FLATTEST = 0.38  # of a circle's radius: the shorter half of the box in it, that of an octagon's side
_EXACT_MM = 1e-7  # a cut shallower than this is none
_GRID = np.repeat([2.0**-14, 2.0**-18], 3)  # mm and radians that solved motions are rounded to: 0.06 micrometres
_CALMER, _CALM_SWEEPS = (0.5, 0.25, 0.125, 0.0), 36  # shares of their draws that bricks want in attempts after these
_STUBBORN = 3  # attempts after which two bricks that hardly come nearer to their limits go as one
_NEARER, _NEARER_HELD = 0.5, 0.9  # of how far beyond they were: what is left, where it is not enough
_LESS = (1.0, 0.5, 0.25, 0.0)  # shares of their own motion, and then of their lean, that bricks go back to
_NARROW = 32  # rounds of this before it takes neighbours along
_HOPS = 2  # neighbourhood first solved again


@dataclass(frozen=True)
class Fitted:
    """A solved fit and what it took."""

    motions: Motions
    contacts: Contacts
    steps: np.ndarray  # (K,) mm that studs have moved in their sockets, 0 where a contact is no joint
    share: np.ndarray  # (N,) of its own draws that each brick wants; less than 1 where the limits left no way to all
    repaired: int  # contacts that the exact checks sent back
    cut: int  # contacts not kept in the end; 0 unless even that left no way out
    spent: bool = False  # whether a budget ended the work: this is no cut, but farther from the targets than it could
    held_back: int = 0  # bricks that then went back, towards the lean or towards rest, until all limits were kept


def fitted(
    bricks: Bricks,
    fit: preset.Fit,
    seed: int,
    looseness: float,
    fixed: np.ndarray | None = None,
    budget: float | None = None,
) -> Fitted:
    """The fit of a build. What a brick does depends on its key, its neighbourhood, the seed and the limits alone.

    `fixed` (N,) are bricks that cannot be moved; the others keep clear of them. `budget` are sweeps over all contacts
    that the work may take in all: an answer under a budget keeps all limits too, but may be less close.
    """
    shrink, touching, place = met(bricks, fit.clearance_mm)
    if looseness <= 0.0:
        still = np.zeros((len(bricks), 6))
        return Fitted(Motions.packed(still, shrink), touching, np.zeros(len(touching)), np.ones(len(bricks)), 0, 0)
    fixed = np.zeros(len(bricks), dtype=bool) if fixed is None else fixed
    goal = targets(bricks, touching, fit, seed, looseness, fixed, place)
    problem = Problem(bricks, touching, goal, shrink, fit, looseness, place, Budget(budget))
    motions, repaired, cut = problem.repaired(problem.solved())
    spent, held_back = problem.budget.spent, int(problem.held_back.sum())
    steps, share = problem.steps, problem.share
    sits = problem.standing or Motions.packed(motions, shrink)
    return Fitted(sits, touching, steps, share, repaired, cut, spent, held_back)


class Problem:
    """One build's rows and targets, solved whole and again in part."""

    def __init__(
        self,
        bricks: Bricks,
        touching: Contacts,
        goal: Targets,
        shrink,
        fit: preset.Fit,
        looseness: float,
        place: bytes = b"",
        budget: Budget | None = None,
    ):
        self.bricks, self.touching, self.goal, self.shrink = bricks, touching, goal, shrink
        self.place = place  # tells this build's contacts from all others; without it nothing is remembered
        self.fit, self.looseness = fit, looseness
        self.budget = budget or Budget()
        self.deeper = np.zeros(len(touching))  # mm that each contact's corners are kept apart beyond their limits
        self.narrower = np.zeros(len(touching))  # mm that are taken off each joint's play
        self.mobile = goal.mobility[0] > 0
        ties = partial(Ties.of, bricks, touching, self.mobile)
        self._tie(self._remembered("ties", digest(self.mobile), ties))
        seats = np.flatnonzero((touching.seats | touching.held | self.ties.closed) & self.apart)
        self.beyond = np.zeros(len(touching))  # mm that each is beyond its limits, as checked last
        self.stuck = np.zeros(len(touching), dtype=bool)  # which an attempt has hardly brought nearer
        self.slot = np.full(len(touching), -1, dtype=np.int32)  # row of each contact's forces; -1 while it is idle
        self.slot[seats] = np.arange(len(seats))
        self.forces = np.zeros((len(seats), 8), dtype=np.float32)  # of the rows, as solved last
        self.wanted = goal.wanted
        self.share = np.ones(len(bricks))  # of its own draws that each brick still wants
        self.held_back = np.zeros(len(bricks), dtype=bool)  # which went back, no solve being left
        self.steps = np.zeros(len(touching))  # of each joint's studs, as checked last
        self.worked = 0.0  # sweeps over all contacts that repairs took
        self.standing: Motions | None = None  # as checked last
        self.pieces: Pieces = self._remembered("pieces", b"", partial(bricks.pieces, shrink))
        opening = np.where(touching.kind == LODGED, touching.gap / 2.0**0.5, np.inf)  # across and along at once
        self.play = np.minimum(fit.play_mm, opening)  # mm that what is held may move
        at_rest = partial(depth_at_rest, self.pieces, touching)
        self.depth = self._remembered("depth", b"", at_rest)  # mm that bodies lie in each other in the export
        self.radius = rigid.length(bricks.half)

    def _tie(self, ties: Ties) -> None:
        self.ties = ties
        self.carried = ties.carried(self.touching)  # the same contacts, between those that carry the bricks
        self.apart = self.carried.a != self.carried.b
        ends = np.concatenate([self.carried.a[self.apart], self.carried.b[self.apart]]) if ties else np.zeros(0, int)
        self.crowded = np.bincount(ends, minlength=len(self.bricks)) > colouring.MOST

    def _remembered(self, name: str, told: bytes, work: Callable):
        return remembered(name, self.place + told, work) if self.place else work()

    @property
    def active(self) -> np.ndarray:
        """(K,) which contacts have rows: joints and rests, and others once bodies have met there."""
        return (self.slot >= 0) & self.apart

    def solved(self) -> np.ndarray:
        goal = self.ties.merged(self.goal, self.crowded)
        work = partial(self._unlimited, self.active, goal.mobility)
        held: Rows = self._remembered("rows", digest(self.mobile), work)  # `place` tells the bricks' sizes
        rows = held.limited(*self.limits(self.active))
        found = closest(goal.wanted, goal.least, goal.most, goal.mobility, rows, self.budget.granted(SWEEPS, 1.0))
        self.forces = found.forces
        return self._kept(rounded(found.motions))

    def repaired(self, motions: np.ndarray) -> tuple[np.ndarray, int, int]:
        """Sends contacts back that are not kept, with their neighbourhoods, until none is left."""
        touching, sent_back = self.touching, 0
        wrong = self._wrong(motions, np.arange(len(touching)))
        attempts = [*((sweeps, 1.0) for sweeps in _AGAIN[:REPAIRS]), *((_CALM_SWEEPS, share) for share in _CALMER)]
        for attempt, (sweeps, share) in enumerate(attempts):
            if not len(wrong) or self.budget.spent:
                break
            if share == 1.0 and self.worked > _ENOUGH:
                continue
            sent_back += len(wrong)
            if attempt >= _STUBBORN and self.stuck.any():
                stuck = np.flatnonzero(self.stuck)
                self.forces[self.slot[stuck]] = 0.0  # wound up by what could not be met
                self._tie(self.ties.joined(np.stack([touching.a[stuck], touching.b[stuck]], axis=1)))
            free = self._around(wrong, _HOPS + attempt)
            if share < 1.0:
                self._calm(free, share)
            motions = self._solved_again(motions, free, sweeps)
            wrong = self._wrong(motions, np.flatnonzero(free[touching.a] | free[touching.b]))
        if len(wrong):
            motions, wrong = self._retreated(motions, wrong)
        return motions, sent_back, len(wrong)

    def _retreated(self, solved: np.ndarray, wrong: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Takes bricks back where contacts are not kept, no solve being left: in steps to the lean that all share.

        Where the lean is too much by itself all that hangs together there takes less of it, and none at last: at rest
        nothing cuts that did not in the export.
        """
        touching, own, motions, rounds = self.touching, solved - self.goal.lean, solved, 0
        back, leans = np.zeros((2, len(self.bricks)), dtype=np.int64)  # steps taken of either
        moving = self.mobile[touching.a] & self.mobile[touching.b]
        group = connected(len(self.bricks), touching.a[moving], touching.b[moving])
        while len(wrong):
            ends = np.concatenate([touching.a[wrong], touching.b[wrong]])
            there = np.isin(group, group[ends[self.mobile[ends]]]) & self.mobile
            near = there & self._around(wrong, 0 if rounds < _NARROW else 1 << (rounds - _NARROW))
            for steps, those in ((back, near), (leans, there)):
                further = those & (steps < len(_LESS) - 1)
                if further.any():
                    break
            else:
                break
            steps[further] += 1
            self.held_back |= further
            again = further[touching.a] | further[touching.b]
            again[wrong] = True
            lean, more = (np.array(_LESS)[each, None] for each in (leans, back))
            motions = self._kept(rounded(lean * self.goal.lean + more * own))
            wrong, rounds = self._wrong(motions, np.flatnonzero(again)), rounds + 1
        return motions, wrong

    def _wrong(self, motions: np.ndarray, among: np.ndarray) -> np.ndarray:
        """Those of some contacts where bodies cut or studs leave their play; they are active from now on.

        One whose rows are kept all the same is beyond what is linear: its limits are drawn tighter by as much.
        """
        touching = self.touching
        reach = rigid.length(motions[:, :3]) + rigid.length(motions[:, 3:]) * self.radius
        joint = touching.held[among]
        among = among[(reach[touching.a[among]] + reach[touching.b[among]] >= touching.gap[among]) | joint]
        before = self.standing
        self.standing = after = before.changed_to(motions) if before else Motions.packed(motions, self.shrink)
        depth = self._cuts(after, among)
        joints = among[touching.held[among]]
        self.steps[joints] = play.steps(self.bricks, touching, joints, after)
        over = self.steps[among] - np.maximum(self.play[among], MARGIN_MM)
        bad = (depth > _EXACT_MM) | (over > _EXACT_MM)
        wrong, depth, over = among[bad], np.maximum(depth[bad], 0.0), np.maximum(over[bad], 0.0)
        was, self.beyond[among], self.stuck[:] = self.beyond[wrong], 0.0, False
        self.beyond[wrong] = np.maximum(depth, over)
        enough = np.where(touching.held[wrong], _NEARER_HELD, _NEARER) * was
        self.stuck[wrong] = (was > 0.0) & (self.beyond[wrong] > enough) & self.apart[wrong]
        if not len(wrong):
            return wrong
        unmet, apart = self.slot[wrong] < 0, self.apart[wrong]
        idle, met = wrong[unmet & apart], np.flatnonzero(~unmet & apart)
        kept = met[self._excess(motions, wrong[met]) < 0.5 * MARGIN_MM]
        self._tighten(wrong[kept], depth[kept], over[kept])
        self.slot[idle] = len(self.forces) + np.arange(len(idle))
        self.forces = np.concatenate([self.forces, np.zeros((len(idle), 8), dtype=np.float32)])
        return wrong

    def _cuts(self, after: Motions, among: np.ndarray) -> np.ndarray:
        """How deep (mm) the bodies of some contacts cut, less what the export's own do."""
        touching = self.touching
        pairs = np.stack([touching.piece_a[among], touching.piece_b[among]], axis=1)
        needed = np.zeros(len(self.pieces), dtype=bool)
        needed[pairs] = True
        bodies = moved(self.bricks, after, self.pieces.only(needed))
        number = np.cumsum(needed) - 1
        depth = interference.cuts(bodies, number[pairs], touching.frames[:, 2], touching.frame[among])
        return depth - self.depth[among]

    def _tighten(self, contact: np.ndarray, depth: np.ndarray, over: np.ndarray) -> None:
        self.deeper[contact] += np.where(depth > 0, depth + MARGIN_MM, 0.0)
        self.narrower[contact] += np.where(over > 0, over + MARGIN_MM, 0.0)

    def _excess(self, motions: np.ndarray, contact: np.ndarray) -> np.ndarray:
        """How far (mm) the rows of some contacts are beyond their limits, in the order of the contacts."""
        if not len(contact):
            return np.zeros(0)
        chosen = np.zeros(len(self.touching), dtype=bool)
        chosen[contact] = True
        goal = self.ties.merged(self.goal, self.crowded)
        return constraint.excess(self._rows(chosen, goal.mobility), motions)

    def _calm(self, free: np.ndarray, share: float) -> None:
        """Lets some bricks want less of their own draws, where the limits leave no way to all of it."""
        drawn = self.wanted - self.goal.lean
        self.share[free] = share
        self.goal = replace(self.goal, wanted=self.goal.lean + self.share[:, None] * drawn)
        near = free[self.touching.a] | free[self.touching.b]
        self.deeper[near] = self.narrower[near] = 0.0

    def _around(self, contact: np.ndarray, hops: int) -> np.ndarray:
        """Which bricks (N,) stand within some hops of some contacts."""
        near, carried = np.zeros(len(self.bricks), dtype=bool), self.carried
        near[carried.a[contact]] = near[carried.b[contact]] = True
        active = self.active
        a, b, moves = carried.a[active], carried.b[active], self.mobile  # nothing goes on through what stays
        for _ in range(hops):
            on = near & moves
            reached = (near[a] != near[b]) & (on[a] | on[b])
            if not reached.any():
                break
            near[a[reached]] = near[b[reached]] = True
        return near[self.ties.root]

    def _solved_again(self, motions: np.ndarray, free: np.ndarray, sweeps: int) -> np.ndarray:
        """The motions with those of the free bricks solved anew, among all others as they are."""
        goal, touching = self.ties.merged(self.goal, self.crowded), self.carried
        free = free & (goal.mobility[0] > 0)
        active = self.active
        chosen = active & (free[touching.a] | free[touching.b])
        near = free.copy()
        near[touching.a[chosen]] = near[touching.b[chosen]] = True  # no other brick has a say in it
        held, number = ~free[near, None], np.cumsum(near) - 1
        mobility = np.where(free, goal.mobility, 0.0)
        rows = self._rows(chosen, mobility)
        rows = replace(rows, a=number[rows.a], b=number[rows.b])
        wanted, least, most = (
            np.where(held, motions[near], each[near]) for each in (goal.wanted, goal.least, goal.most)
        )
        share = chosen.sum() / active.sum()
        sweeps = self.budget.granted(sweeps, share)
        self.worked += sweeps * share
        found = closest(wanted, least, most, mobility[:, near], rows, sweeps, self.forces[self.slot[chosen]])
        self.forces[self.slot[chosen]] = found.forces
        motions = motions.copy()
        motions[free] = rounded(found.motions)[free[near]]
        return self._kept(motions)

    def _kept(self, motions: np.ndarray) -> np.ndarray:
        return self.ties.kept(motions, self.mobile)

    def _rows(self, chosen: np.ndarray, mobility: np.ndarray) -> Rows:
        return self._unlimited(chosen, mobility).limited(*self.limits(chosen))

    def limits(self, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Lowest and highest value (C, 3) of the rows of the contacts chosen (K,): of corners, of studs in x and y."""
        bricks, touching, fit, pressed = self.bricks, self.touching, self.fit, self.goal.pressed
        chosen = np.flatnonzero(chosen)
        a, b, gap, kind = (each[chosen] for each in (touching.a, touching.b, touching.gap, touching.kind))
        joint, lodged, seat = kind == JOINT, kind == LODGED, (kind == JOINT) | (kind == REST)
        lift = fit.lift_mm * self.looseness
        margin = np.where(seat, min(_HELD_MARGIN_MM, lift / 12.0), np.minimum(MARGIN_MM, 0.5 * np.maximum(gap, 0.0)))
        margin[pressed[a] & pressed[b]] = 0.0
        low, high = np.full((len(gap), 3), -np.inf), np.full((len(gap), 3), np.inf)
        low[:, 0] = margin - np.maximum(gap, 0.0) + self.deeper[chosen]
        climb = rise(fit, self.looseness) * np.abs(bricks.low[b, 2] - bricks.low[a, 2])
        high[joint, 0] = (np.maximum(lift, 1.5 * climb) - gap)[joint]
        open_ = joint & (gap < 0.9 * fit.clearance_mm)  # in the export itself: it need not close
        high[open_, 0] = np.maximum(high[open_, 0], 0.0)
        held = joint | lodged
        reach = reachable(self.play[chosen])
        play = np.maximum(reach - self.narrower[chosen], 0.0)[held]
        high[held, 1:] = play[:, None] * self._box(chosen[held])
        low[held, 1:] = -high[held, 1:]
        high[lodged, 0] = reach[lodged]
        low[lodged, 0] = -high[lodged, 0]
        low[self.ties.closed[chosen], 0] = high[self.ties.closed[chosen], 0] = 0.0
        return low, high

    def _box(self, joint: np.ndarray) -> np.ndarray:
        """Half sizes (J, 2) of the box that stands in for the circle of radius 1 that studs move in: its corner lies on
        the circle, on the way to where the outermost studs want to go."""
        touching, centre, wanted = self.touching, rigid.across(self.bricks.centre), rigid.across(self.goal.wanted)
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
        farthest = np.abs([rigid.weighted(way, x), rigid.weighted(way, y)]) + span[::-1] * twist + 1e-9
        share = np.clip(_of_length_1(farthest), _FLATTEST, np.sqrt(1.0 - _FLATTEST**2))
        return _of_length_1(share).T

    def _unlimited(self, chosen: np.ndarray, mobility: np.ndarray) -> Rows:
        touching, chosen = self.carried, np.flatnonzero(chosen)
        level, colour = constraint.is_level(touching.frames)[touching.frame[chosen]], np.zeros(len(chosen), np.int64)
        for alike in (level, ~level):  # met apart, so on their own: the few that are not level then are in few colours
            a, b, kind = (each[chosen[alike]] for each in (touching.a, touching.b, touching.kind))
            priority = colouring.priorities(self.bricks.key, a, b, kind)
            colour[alike] = colouring.colours(a, b, mobility[0] > 0, priority)
        return constraint.rows(touching, chosen, self.bricks.centre, mobility, colour)


def _of_length_1(vectors: np.ndarray) -> np.ndarray:
    """Vectors (2, J) at their directions."""
    x, y = vectors
    return vectors / np.sqrt(x * x + y * y)


def reachable(play_mm: np.ndarray | float) -> np.ndarray:
    """How far (mm) a stud may go of its play."""
    return np.asarray(play_mm) - np.minimum(_HELD_MARGIN_MM, play_mm / 12.0)


def rounded(motions: np.ndarray) -> np.ndarray:
    """Motions (N, 6) on a grid far below any limit: what a distant change does to the last bits ends here."""
    return np.rint(motions / _GRID) * _GRID
