"""A fit after a change: what is within reach of it is solved again, close to how it sat; all else stays as it sat.

Bricks that were there before want to stay as they stand, those that came want what any fit draws for them. So a change
is felt only as far as bricks must give way, and a brick that need not keeps every bit.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..build.bricks import Bricks
from ..build.contacts import contacts
from ..build.touching import Contacts
from ..presets import preset
from .budget import Budget
from .clearance import shrinkage
from .fit import kept
from .motions import rounded
from .problem import Problem
from .repair import Repair
from .targets import Targets, targets

REACH = 3  # contacts from a change; beyond it a brick stays as it is, bit for bit
_SAME_MM, _ARM_MM = 2e-4, 16.0  # a brick whose points would move by less stays
_BITS_MM = 1e-6  # what Blender's single precision takes off a motion


@dataclass(frozen=True)
class Refitted:
    """A fit of which most is as it was."""

    motions: np.ndarray  # (N, 6) mm and radians
    other: np.ndarray  # (N,) which sit otherwise than they stood
    repaired: int  # contacts that the exact checks sent back
    cut: int  # contacts not kept in the end: the bricks that stay leave no way


def refitted(
    bricks: Bricks,
    touching: Contacts,
    fit: preset.Fit,
    seed: int,
    looseness: float,
    fixed: np.ndarray,
    budget: float | None,
    standing: np.ndarray,
    free: np.ndarray,
    fresh: np.ndarray,
) -> Refitted:
    """The fit of a build of which only the `free` bricks (N,) may move; the others stay as `standing` (N, 6) tells.

    Of these the `fresh` ones (N,) have not stood here before. `touching` is all that touches in the build.
    """
    table = exact(standing)
    if looseness <= 0.0:
        table = np.where((free & fresh)[:, None], 0.0, table)
        return Refitted(table, _differ(table, standing), 0, 0)
    goal = _goal(targets(bricks, touching, fit, seed, looseness, fixed), table, free, fresh)
    near = np.flatnonzero(reached(len(free), free, _ends(touching), hops=1))  # no other brick has a say in it
    own, inner = bricks.only(near), free[near]
    shrink = shrinkage(own, fit.clearance_mm)
    problem = Problem.of(own, contacts(own, shrink), _only(goal, near), shrink, fit, looseness)
    repair = Repair(problem, Budget(budget))
    stood = table[near]
    found = np.where(inner[:, None], repair.solved(), stood)
    stays = inner & ~fresh[near] & ~_differ(found, stood)
    found[stays] = stood[stays]
    mended, _ = kept(repair, found)
    table[near[inner]] = mended.motions[inner]
    return Refitted(table, free & _differ(table, standing), repair.sent_back, len(mended.wrong))


def exact(standing: np.ndarray) -> np.ndarray:
    """Motions (N, 6) as they were solved, where they are read back from Blender's single precision."""
    grid = rounded(standing)
    far = (np.abs(grid - standing) * np.repeat([1.0, _ARM_MM], 3)).max(axis=1)
    return np.where((far <= _BITS_MM)[:, None], grid, standing)


def _goal(goal: Targets, standing: np.ndarray, free: np.ndarray, fresh: np.ndarray) -> Targets:
    """Targets of which bricks that stood here want to stand as they did, however far that is from their draws."""
    kept, moves = ~fresh[:, None], free[:, None]
    return replace(
        goal,
        wanted=np.where(kept, standing, goal.wanted),
        lean=np.where(kept, np.where(moves, standing, 0.0), goal.lean),  # what they go back to if all else fails
        least=np.where(kept, np.minimum(goal.least, standing), goal.least),
        most=np.where(kept, np.maximum(goal.most, standing), goal.most),
        mobility=np.where(free, goal.mobility, 0.0),
    )


def _only(goal: Targets, rows: np.ndarray) -> Targets:
    return replace(goal, **{name: values[..., rows] if name == "mobility" else values[rows]
                            for name, values in vars(goal).items()})  # fmt: skip


def _differ(table: np.ndarray, standing: np.ndarray) -> np.ndarray:
    return (np.abs(table - standing) * np.repeat([1.0, _ARM_MM], 3)).max(axis=1) > _SAME_MM


def _ends(touching: Contacts) -> np.ndarray:
    return np.stack([touching.a, touching.b], axis=1)


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
