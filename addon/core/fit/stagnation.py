"""Stagnation: contacts that an attempt has hardly brought nearer to their limits."""

import numpy as np

from . import attempts
from .attempts import Attempt
from .finding import Finding
from .problem import Problem

# Of how far a contact was beyond its limits, what is left where an attempt has hardly brought it nearer; what is held
# comes slowly. Of 1,400 bricks in builds that contradict themselves none then wants less; with 0.75 in place of the
# first 225 do, with 0.5 or 0.97 in place of the second 60, and 508 where nothing ever goes as one.
_NEARER, _NEARER_HELD = 0.5, 0.9


class Stagnation:
    """How far each contact was beyond its limits when it was checked last, and which an attempt has not helped."""

    def __init__(self, contacts: int):
        self._beyond = np.zeros(contacts)  # mm
        self._stuck = np.zeros(0, dtype=np.int64)

    def learn(self, problem: Problem, found: Finding) -> None:
        """Takes in what the exact check has found since the last attempt."""
        wrong, was = found.wrong, self._beyond[found.wrong]
        self._beyond[found.looked] = 0.0
        self._beyond[wrong] = found.beyond
        enough = np.where(problem.touching.held[wrong], _NEARER_HELD, _NEARER) * was
        self._stuck = wrong[(was > 0.0) & (found.beyond > enough) & problem.apart[wrong]]

    def given_up(self, problem: Problem, attempt: Attempt, wrong: np.ndarray) -> np.ndarray:
        """Those of some contacts that an attempt no longer tries to keep: their bricks go as one."""
        if attempt.joins == attempts.NONE:
            return wrong[:0]
        given_up = np.isin(wrong, self._stuck) | (attempt.joins == attempts.ALL)
        return wrong[given_up & problem.apart[wrong]]
