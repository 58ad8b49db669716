"""How a build's motions, joints and seams are spread, beside what ends each: arrays for a chart."""

from dataclasses import dataclass

import numpy as np

from .. import units
from ..build.bricks import Bricks
from ..build.touching import JOINT, SIDE, Contacts
from ..fit import play, summary
from ..fit.limits import reachable
from ..fit.motions import Motions
from ..presets.preset import Fit
from .picture import SCALE


@dataclass(frozen=True)
class Spread:
    """One measure of many things, and a line that it is seen against."""

    name: str
    unit: str
    of: str  # what is counted
    values: np.ndarray  # (N,)
    line: float  # in the same unit
    line_is: str  # what that line is
    told: str  # what is measured, and what its line means, in a sentence

    @property
    def figures(self) -> str:
        """The spread in numbers."""
        if not len(self.values):
            return f"There are no {self.of}"
        unit = self.unit if self.unit == "°" else f" {self.unit}"
        told = (*np.percentile(self.values, (50.0, 5.0, 95.0)), self.values.max())
        median, low, high, largest = (f"{value:.{3 if self.unit == 'mm' else 2}f}" for value in told)
        return f"Median {median}{unit}, nine of ten from {low} to {high}, largest {largest}"

    @property
    def sentence(self) -> str:
        """What a chart of it shows, for who does not see it."""
        return f"{self.name} of {len(self.values)} {self.of}. {self.figures}; {self.line_is} {self.line:.2g}"


@dataclass(frozen=True)
class Joints:
    """Those that so many studs hold."""

    studs: str
    joints: int
    play_used: float  # share, of half of them at least
    at_their_play: int  # with next to none of it left


def spreads(
    bricks: Bricks, contacts: Contacts, motions: Motions, limits: Fit, looseness: float, held: np.ndarray
) -> tuple[Spread, ...]:
    """Motions of the bricks that move, `held` (N,) being those that do not, steps in joints, and seams between walls.

    The contacts are those of the bricks with their clearance, at rest.
    """
    shift, lift, twist, tilt = summary.measures(motions, np.flatnonzero(~held))
    own = "the most that a brick goes by itself; the lean and what it stands on take it farther"
    asked = (
        ("Shift", "mm", shift, np.sqrt(2.0) * limits.shift_mm, f"Sideways. The line is {own}."),
        ("Lift", "mm", lift, limits.lift_mm, "Up off the seat. A joint opens up to the line; up a tower it adds up."),
        ("Twist", "°", units.degrees(twist), limits.twist_deg, f"About the upright. The line is {own}."),
        ("Tilt", "°", units.degrees(tilt), np.sqrt(2.0) * limits.tilt_deg, f"Tipping. The line is {own}."),
    )
    joint, side = np.flatnonzero(contacts.held), np.flatnonzero(contacts.kind == SIDE)
    steps = play.steps(bricks, contacts, joint, motions)
    return (
        *(Spread(name, unit, "bricks", way, looseness * line, "asked", told) for name, unit, way, line, told in asked),
        Spread(
            "Step", "mm", "joints", steps, limits.play_mm, "the play",
            "How far studs have gone in their sockets, which end at the line.",
        ),
        Spread(
            "Seam", "mm", "seams", play.opened(bricks, contacts, side, motions), _moulded(contacts, side), "as moulded",
            "Between walls that face each other. The line is where the mould alone would leave half of them.",
        ),
    )  # fmt: skip


def _moulded(contacts: Contacts, side: np.ndarray) -> float:
    return float(np.median(contacts.gap[side])) if len(side) else 0.0


def joints(bricks: Bricks, contacts: Contacts, motions: Motions, play_mm: float) -> tuple[Joints, ...]:
    """The joints by how many studs hold each, few to many; pins, bars and balls as one stud."""
    joint = np.flatnonzero(contacts.held)
    steps = play.steps(bricks, contacts, joint, motions)
    studs = np.where(contacts.kind[joint] == JOINT, contacts.studs[joint], 1)
    step = np.searchsorted([first for first, *_ in SCALE], studs, side="right") - 1
    share = steps / play_mm if play_mm else np.zeros(len(joint))
    full = steps > summary.TIGHT * reachable(play_mm)
    return tuple(
        Joints(words, int((step == n).sum()), float(np.median(share[step == n])), int(full[step == n].sum()))
        for n, (_, words, *_) in enumerate(SCALE)
        if (step == n).any()
    )
