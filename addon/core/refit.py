"""A fit after a change: bricks within reach of it sit as a fit of the whole build has them, all others as they sat.

A fit is local, so both are the same but for a remnant where they meet. What of that is beyond a limit is solved again,
among bricks that stay: the guarantee is that of any fit, and a change taken back gives the very fit that was before.
"""

from dataclasses import dataclass, replace

import numpy as np

from . import preset
from .bricks import Bricks
from .budget import Budget
from .contacts import Contacts
from .fit import Problem, fitted, shrinkage
from .motions import Motions
from .targets import targets

REACH = 3  # contacts from a change; beyond it a brick stays as it is, bit for bit
_SAME_MM, _ARM_MM = 2e-4, 16.0  # a brick whose points have moved by less sits as before


@dataclass(frozen=True)
class Refitted:
    """A fit of which some is as it was."""

    motions: Motions
    contacts: Contacts
    other: np.ndarray  # (N,) which sit otherwise than they stood
    repaired: int  # contacts that were sent back where new and old meet
    cut: int  # contacts not kept in the end
    more: int  # of these, more than a fit of the whole build has: the bricks that stay leave no way


def refitted(
    bricks: Bricks,
    fit: preset.Fit,
    seed: int,
    looseness: float,
    fixed: np.ndarray,
    budget: float | None,
    standing: np.ndarray,
    free: np.ndarray,
) -> Refitted:
    """The fit of a build of which only the `free` bricks (N,) may move; the others stay as `standing` (N, 6) tells."""
    whole = fitted(bricks, fit, seed, looseness, fixed, budget)
    shrink = shrinkage(bricks, fit.clearance_mm)
    wanted = np.hstack([whole.motions.shift, whole.motions.turn])
    table = np.where(free[:, None], wanted, standing)
    if looseness <= 0.0:
        return Refitted(Motions.packed(table, shrink), whole.contacts, _differ(table, standing), 0, 0, 0)
    touching = whole.contacts.only(free[whole.contacts.a] | free[whole.contacts.b])
    goal = targets(bricks, whole.contacts, fit, seed, looseness, fixed)
    goal = replace(goal, mobility=np.where(free, goal.mobility, 0.0))
    problem = Problem(bricks, touching, goal, shrink, fit, looseness, budget=Budget(budget))
    table, repaired, cut = problem.repaired(table)
    return Refitted(
        Motions.packed(table, shrink), whole.contacts, _differ(table, standing), repaired, cut, cut - whole.cut
    )


def _differ(table: np.ndarray, standing: np.ndarray) -> np.ndarray:
    return (np.abs(table - standing) * np.repeat([1.0, _ARM_MM], 3)).max(axis=1) > _SAME_MM


def reached(count: int, changed: np.ndarray, *contacts: np.ndarray, hops: int = REACH) -> np.ndarray:
    """Which bricks (count,) are within some contacts of the `changed` (count,), over all pairs (K, 2) given."""
    near = changed.copy()
    pairs = np.concatenate(contacts)
    for _ in range(hops):
        a, b = near[pairs].T
        near[pairs[a | b]] = True
    return near


def parted(way: np.ndarray, changed: np.ndarray, *contacts: np.ndarray) -> np.ndarray:
    """The changed bricks (N,), and others that went another way (N, 3) than one they touch: pairs (K, 2)."""
    pairs, out = np.concatenate(contacts), changed.copy()
    apart = (way[pairs[:, 0]] != way[pairs[:, 1]]).any(axis=1) & ~changed[pairs].any(axis=1)
    out[pairs[apart]] = True
    return out
