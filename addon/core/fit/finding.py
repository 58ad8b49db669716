"""The exact check: where bodies, turned by their true angles, cut, and where studs have left their play."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .. import rigid
from ..build import interference
from . import play
from .limits import MARGIN_MM
from .motions import Motions, moved
from .problem import Problem

_EXACT_MM = 1e-7  # a cut shallower than this is none: what float64 leaves of sums over a build of some metres


@dataclass(frozen=True)
class Finding:
    """What a check of N bricks' motions found; the W contacts among K that are not kept, and by how much."""

    motions: np.ndarray  # (N, 6) as they were checked
    standing: Motions  # the same, with their turns as matrices
    steps: np.ndarray  # (K,) mm that studs have moved in their sockets, as checked last; 0 where a contact is no joint
    looked: np.ndarray  # contacts that were near enough to be looked at
    wrong: np.ndarray  # (W,) those that are not kept
    depth: np.ndarray  # (W,) mm that bodies cut there, beyond what the export's own do; 0 for none
    over: np.ndarray  # (W,) mm that studs have gone beyond their play; 0 for none

    @cached_property
    def beyond(self) -> np.ndarray:
        """(W,) mm that contacts are beyond their limits."""
        return np.maximum(self.depth, self.over)


def examined(
    problem: Problem, motions: np.ndarray, before: Finding | None = None, changed: np.ndarray | None = None
) -> Finding:
    """What a check of motions (N, 6) finds; after one `before`, at the contacts of the bricks `changed` (K,) alone."""
    touching = problem.touching
    among = np.arange(len(touching)) if changed is None else np.flatnonzero(changed)
    reach = rigid.length(motions[:, :3]) + rigid.length(motions[:, 3:]) * problem.radius
    way = reach[touching.a[among]] + reach[touching.b[among]]
    among = among[(way >= touching.gap[among]) & (way > 0.0) | touching.held[among]]
    standing = before.standing.changed_to(motions) if before else Motions.packed(motions, problem.shrink)
    depth = _cuts(problem, standing, among)
    joints = among[touching.held[among]]
    steps = before.steps.copy() if before else np.zeros(len(touching))
    steps[joints] = play.steps(problem.bricks, touching, joints, standing)
    over = steps[among] - np.maximum(problem.play[among], MARGIN_MM)
    bad = (depth > _EXACT_MM) | (over > _EXACT_MM)
    depth, over = (np.maximum(each[bad], 0.0) for each in (depth, over))
    return Finding(motions, standing, steps, among, among[bad], depth, over)


def _cuts(problem: Problem, standing: Motions, among: np.ndarray) -> np.ndarray:
    """How deep (mm) the bodies of some contacts cut, less what the export's own do."""
    touching = problem.touching
    pairs = np.stack([touching.piece_a[among], touching.piece_b[among]], axis=1)
    needed = np.zeros(len(problem.pieces), dtype=bool)
    needed[pairs] = True
    bodies = moved(problem.bricks, standing, problem.pieces.only(needed))
    number = np.cumsum(needed) - 1
    depth = interference.cuts(bodies, number[pairs], touching.frames[:, 2], touching.frame[among])
    return depth - problem.depth[among]
