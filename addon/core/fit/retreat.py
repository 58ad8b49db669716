"""Retreat: no solve being left, bricks go back where contacts are not kept, in steps, until all are."""

import numpy as np

from ..parts.shells import connected
from .finding import Finding, examined
from .motions import rounded
from .problem import Problem

_LESS = np.array([1.0, 0.5, 0.25, 0.0])  # shares of their own motion, and then of the lean, that bricks go back to
_NARROW = (
    32  # rounds before neighbours go back too, ever more of them: each brick has but three steps, so most end here
)


class Retreat:
    """The way back of a solved build to the lean that all share, and from there to rest.

    Where the lean is too much by itself all that hangs together there takes less of it, and none at last: at rest
    nothing cuts that did not in the export.
    """

    def __init__(self, problem: Problem, linked: np.ndarray):
        """`linked` (K,) are the contacts over which neighbours are found."""
        bricks, touching, mobile = len(problem.bricks), problem.touching, problem.mobile
        moving = mobile[touching.a] & mobile[touching.b]
        self.problem, self._linked = problem, linked.copy()
        self._group = connected(bricks, touching.a[moving], touching.b[moving])  # what hangs together
        self._back, self._less = np.zeros((2, bricks), dtype=np.int64)  # steps taken of their own motion, of the lean

    @property
    def held_back(self) -> np.ndarray:
        """(N,) bricks that went back."""
        return (self._back > 0) | (self._less > 0)

    def kept(self, found: Finding) -> Finding:
        """What is found once all is kept, or no brick that could help has a step left."""
        problem, rounds, own = self.problem, 0, found.motions - self.problem.goal.lean
        while len(found.wrong):
            self._linked[found.wrong] = problem.apart[found.wrong]
            further = self._further(found.wrong, rounds)
            if not further.any():
                break
            lean, more = (_LESS[steps, None] for steps in (self._less, self._back))
            motions = problem.kept(rounded(lean * problem.goal.lean + more * own))
            other = further | (motions != found.motions).any(axis=1)  # what slides along a brick goes with it
            changed = other[problem.touching.a] | other[problem.touching.b]
            changed[found.wrong] = True
            found, rounds = examined(problem, motions, found, changed), rounds + 1
        return found

    def _further(self, wrong: np.ndarray, rounds: int) -> np.ndarray:
        """Which bricks (N,) take one more step back: those at contacts that are not kept, of their own motion, and if
        none of these has one left, all that hangs together with them, of the lean, and at last of their own: what
        slides along bricks that are none of these goes with them."""
        problem = self.problem
        ends = np.concatenate([problem.touching.a[wrong], problem.touching.b[wrong]])
        there = np.isin(self._group, self._group[ends[problem.mobile[ends]]]) & problem.mobile
        hops = 0 if rounds < _NARROW else 1 << (rounds - _NARROW)
        near = there & problem.around(wrong, hops, self._linked)
        for steps, those in ((self._back, near), (self._less, there), (self._back, there)):
            further = those & (steps < len(_LESS) - 1)
            if further.any():
                steps[further] += 1
                return further
        return np.zeros(len(there), dtype=bool)
