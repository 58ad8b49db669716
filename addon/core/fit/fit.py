"""The fit: motions close to seeded targets that joints, neighbours and tolerances allow together.

bricks ─▶ contacts ─▶ targets ─▶ Problem ─▶ closest motions ─▶ exact check ─▶ Repair, where bodies still cut ─▶ Retreat
                                 immutable                      Finding        own all that changes
"""

from dataclasses import dataclass

import numpy as np

from ..build.bricks import Bricks
from ..build.heaps import heaped
from ..build.touching import Contacts
from ..presets import preset
from .budget import Budget
from .clearance import met
from .finding import Finding
from .motions import Motions
from .problem import Problem
from .repair import Repair
from .retreat import Retreat
from .targets import targets


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
    as_one: int = 0  # bricks that go as one with another, since no attempt brought the two nearer to their limits
    heaped: int = 0  # bricks that stay, each lying in others that all lie in as many


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
    repair = Repair(Problem.of(bricks, touching, goal, shrink, fit, looseness, place), Budget(budget))
    found, held_back = kept(repair, repair.solved())
    return Fitted(
        motions=found.standing,
        contacts=touching,
        steps=found.steps,
        share=repair.share,
        repaired=repair.sent_back,
        cut=len(found.wrong),
        spent=repair.budget.spent,
        held_back=int(held_back.sum()),
        as_one=int(repair.as_one.sum()),
        heaped=int(heaped(touching, len(bricks)).sum()),
    )


def kept(repair: Repair, motions: np.ndarray) -> tuple[Finding, np.ndarray]:
    """Motions (N, 6) with all that is not kept mended, and which bricks (N,) went back since no solve got there."""
    found = repair.mended(motions)
    if not len(found.wrong):
        return found, np.zeros(len(motions), dtype=bool)
    retreat = Retreat(repair.problem, repair.linked)
    return retreat.kept(found), retreat.held_back
