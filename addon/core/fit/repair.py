"""Repair: what the exact check does not find kept is solved again, with its neighbourhood, in ever wider attempts.

All that changes while motions are looked for is here: which contacts have rows and what these push with, how tightly
their limits are drawn, which bricks go as one and how much they want.
"""

from dataclasses import replace

import numpy as np

from . import attempts, limits
from . import rows as constraint
from .attempts import Attempt
from .budget import Budget
from .finding import Finding, examined
from .forces import Forces
from .limits import MARGIN_MM, Tighter
from .motions import rounded
from .problem import Problem
from .solver import closest
from .stagnation import Stagnation
from .ties import stiff

_KEPT_MM = 0.5 * MARGIN_MM  # rows nearer to their limits than this are kept, all that is left is the bodies' own


class Repair:
    """The work on one problem's motions, as it stands."""

    def __init__(self, problem: Problem, budget: Budget | None = None):
        contacts = len(problem.touching)
        self.budget = budget or Budget()
        glued = stiff(problem.touching, problem.fit.play_mm, problem.fit.lift_mm * problem.looseness)
        self.problem = problem.joined(glued)  # with more bricks that go as one, or want less, another
        self.forces = Forces(self.problem.seated)
        self.tighter = Tighter.nowhere(contacts)
        self.share = np.ones(len(problem.bricks))  # of its own draws that each brick still wants
        self.sent_back = 0  # contacts that were solved again, counted at each attempt
        self._wanted, self._ties = problem.goal.wanted, problem.ties  # as they were at first
        self._stagnation = Stagnation(contacts)
        self._worked = 0.0  # sweeps over all contacts that attempts took

    @property
    def as_one(self) -> np.ndarray:
        """(N,) which bricks go as one with others, no attempt having brought them nearer to what their limits ask."""
        return self.problem.ties.grown(self._ties)

    @property
    def linked(self) -> np.ndarray:
        """(K,) which contacts have rows: joints and rests, and others once bodies have met there."""
        return self.forces.awake & self.problem.apart

    def solved(self) -> np.ndarray:
        """Motions (N, 6) as close to the targets as the rows allow, not checked yet."""
        problem = self.problem
        goal, rows = problem.merged, limits.first_rows(problem)
        sweeps = self.budget.granted(attempts.SWEEPS, 1.0)
        found = closest(goal.wanted, goal.least, goal.most, goal.mobility, rows, sweeps)
        self.forces[problem.seated] = found.forces
        return problem.kept(rounded(found.motions))

    def mended(self, motions: np.ndarray) -> Finding:
        """Sends contacts back that are not kept, with their neighbourhoods, until none is left or no attempt is."""
        found = examined(self.problem, motions)
        self._learn(found)
        for plain, odd in attempts.ATTEMPTS:
            if not len(found.wrong) or self.budget.spent:
                break
            if not plain.stays and plain.share == 1.0 and self._worked > attempts.ENOUGH:
                continue
            found = self._attempted(plain, odd, found)
            self._learn(found)
        return found

    def _attempted(self, plain: Attempt, odd: Attempt, found: Finding) -> Finding:
        problem, odd_ones = self.problem, self.problem.odd[found.wrong]
        self.sent_back += len(found.wrong)
        lots = (plain, found.wrong[~odd_ones]), (odd, found.wrong[odd_ones])
        self._join(np.concatenate([self._stagnation.given_up(problem, *lot) for lot in lots]))
        around = [self.problem.around(wrong, attempt.hops, self.linked) for attempt, wrong in lots]
        free = around[0] | around[1]
        stay = (around[0] & plain.stays) | (around[1] & odd.stays)
        near = free[problem.touching.a] | free[problem.touching.b]
        if plain.share < 1.0:
            self._calm(free, near, plain.share)
        sweeps = odd.sweeps if odd_ones.all() else plain.sweeps
        motions = self._solved_again(found.motions, free, stay, sweeps)
        other = (motions != found.motions).any(axis=1)  # what slides along a brick goes with it, free or not
        changed = near | other[problem.touching.a] | other[problem.touching.b]
        return examined(self.problem, motions, found, changed)

    def _learn(self, found: Finding) -> None:
        """Contacts that are not kept have rows from now on; where rows are kept all the same, what is linear is not
        enough: their limits are drawn tighter by as much."""
        wrong, problem = found.wrong, self.problem
        self._stagnation.learn(problem, found)
        if not len(wrong):
            return
        awake, apart = self.forces.awake[wrong], problem.apart[wrong]
        met = np.flatnonzero(awake & apart)
        excess = _excess(problem, self.tighter, found.motions, wrong[met])
        kept = met[(excess < _KEPT_MM) | problem.slides[wrong[met]]]
        self.tighter = self.tighter.by(wrong[kept], found.depth[kept], found.over[kept])
        self.forces.wake(wrong[~awake & apart])

    def _join(self, stuck: np.ndarray) -> None:
        touching = self.problem.touching
        self.forces[stuck] = 0.0  # wound up by what could not be met
        self.problem = self.problem.joined(np.stack([touching.a[stuck], touching.b[stuck]], axis=1))

    def _calm(self, free: np.ndarray, near: np.ndarray, share: float) -> None:
        """Lets some bricks want less of their own draws, where the limits leave no way to all of it."""
        self.share[free] = share
        lean = self.problem.goal.lean
        self.problem = self.problem.wanting(lean + self.share[:, None] * (self._wanted - lean))
        self.tighter = self.tighter.but_for(near)

    def _solved_again(self, motions: np.ndarray, free: np.ndarray, stay: np.ndarray, sweeps: int) -> np.ndarray:
        """The motions with those of the free bricks solved anew, among all others as they are; some of these want to
        stay where they are, too."""
        problem, goal, touching, linked = self.problem, self.problem.merged, self.problem.carried, self.linked
        free = free & (goal.mobility[0] > 0)
        chosen = linked & (free[touching.a] | free[touching.b])
        if stay.any():
            goal = replace(goal, wanted=np.where(stay[:, None], problem.ties.gathered(motions), goal.wanted))
            self.forces[chosen & (stay[touching.a] | stay[touching.b])] = 0.0
        near = free.copy()
        near[touching.a[chosen]] = near[touching.b[chosen]] = True  # no other brick has a say in it
        held, number = ~free[near, None], np.cumsum(near) - 1
        mobility = np.where(free, goal.mobility, 0.0)
        rows = limits.rows(problem, chosen, mobility, self.tighter)
        rows = replace(rows, a=number[rows.a], b=number[rows.b])
        wanted, least, most = (
            np.where(held, motions[near], each[near]) for each in (goal.wanted, goal.least, goal.most)
        )
        share = chosen.sum() / max(linked.sum(), 1)  # of none where all goes as one
        sweeps = self.budget.granted(sweeps, share)
        self._worked += sweeps * share
        found = closest(wanted, least, most, mobility[:, near], rows, sweeps, self.forces[chosen])
        self.forces[chosen] = found.forces
        motions = motions.copy()
        motions[free] = rounded(found.motions)[free[near]]
        return problem.kept(motions)


def _excess(problem: Problem, tighter: Tighter, motions: np.ndarray, contact: np.ndarray) -> np.ndarray:
    """How far (mm) the rows of some contacts are beyond their limits, in the order of the contacts."""
    if not len(contact):
        return np.zeros(0)
    chosen = np.zeros(len(problem.touching), dtype=bool)
    chosen[contact] = True
    return constraint.excess(limits.rows(problem, chosen, problem.merged.mobility, tighter), motions)
