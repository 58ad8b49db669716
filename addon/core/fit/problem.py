"""The problem of a fit: what bricks would do, what touches, and what goes as one. Nothing in it changes."""

from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from .. import rigid
from ..build.bricks import Bricks, Pieces
from ..build.contacts import depth_at_rest
from ..build.openings import MISFIT_MM
from ..build.touching import LODGED, SIDE, Contacts
from ..presets import preset
from ..remembered import digest, remembered
from . import colouring
from .targets import Targets
from .ties import Ties

_NEAR_MISFIT = 2  # contacts on from bricks that do not fit, what holds them is odd too
_BOTH_WAYS = 2.0**0.5  # what lies in an opening goes across and along at once, together by its gap


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
        ties: Ties = remembered("ties", told, partial(Ties.of, bricks, touching, mobile))
        pieces: Pieces = remembered("pieces", place, partial(bricks.pieces, shrink))
        depth: np.ndarray = remembered("depth", place, partial(depth_at_rest, pieces, touching))
        opening = np.where(touching.kind == LODGED, touching.gap / _BOTH_WAYS, np.inf)
        play = np.minimum(fit.play_mm, opening)
        return cls(bricks, touching, goal, shrink, fit, looseness, place, ties, pieces, depth, play)

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
        moves = self.mobile[self.carried.a] | self.mobile[self.carried.b]
        return (self.touching.seats | self.touching.held | self.ties.closed | self.misfit) & self.apart & moves

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
        if not len(contact):
            return np.zeros(len(self.bricks), dtype=bool)
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
