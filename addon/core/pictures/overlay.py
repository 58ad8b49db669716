"""What of a build can be seen as colours on its bricks, side by side: what each is called, and the legend beside it."""

from dataclasses import dataclass
from math import floor, log10

import numpy as np

from ..report import Seen
from ..wear.layers import LAYERS, rule_of

OFF = "off"
REACH, SKY, SUN, MOTION, INTERFERENCE = "reach", "sky", "sun", "motion", "interference"
SIDES = ("−x", "+x", "−y", "+y", "−z", "+z")  # of a brick, along its own axes, as everywhere
_NICE = (1.0, 2.0, 2.5, 5.0, 10.0)  # where a legend may end, times a power of ten
_STEPS = {1.0: 4, 2.0: 4, 2.5: 5, 5.0: 5}  # from 0 to there


@dataclass(frozen=True)
class Kind:
    """One thing that can be seen."""

    label: str
    meaning: str  # in plain words
    unit: str = ""  # "" for a share
    least: float = 1.0  # that a legend goes up to: below it there is nothing to see


def _of_layer(layer: str) -> Kind:
    unit = rule_of(layer).unit
    meaning = f"{LAYERS[layer].meaning}: how much of it a side has, with all dials"
    return Kind(layer.title(), meaning, unit, 1.0 if unit else 0.05)


KINDS: dict[str, Kind] = {
    REACH: Kind("Reach", "How much of a side hands get to: 0 nothing, 1 all of it"),
    SKY: Kind("Sky", "How much of its sky a side sees, where dust falls from: 0 under shelter, 1 all of it"),
    SUN: Kind("Sun", "How much of the window's light a side gets: 0 none, 1 the most"),
    **{layer: _of_layer(layer) for layer in LAYERS},
    MOTION: Kind("Motion", "How far the fit has moved the farthest corner of a brick off the grid", "mm", 0.01),
    INTERFERENCE: Kind(
        "Interference", "How deep a brick cuts into another, beyond what the export itself does", "mm", 0.01
    ),
}


@dataclass(frozen=True)
class Overlay:
    """What N bricks have of one thing, on each of their sides."""

    kind: Kind
    values: np.ndarray  # (N, 6) in its unit: -x, +x, -y, +y, -z, +z of each brick's own axes
    notes: tuple[str, ...] = ()  # what else is to be told

    def __len__(self) -> int:
        return len(self.values)

    @property
    def top(self) -> float:
        """Where the legend ends, from 0: a round number that no value lies beyond."""
        most = max(float(self.values.max(initial=0.0)), self.kind.least)
        power = 10.0 ** floor(log10(most) + 1e-9)
        return next(each * power for each in _NICE if each * power >= most * (1.0 - 1e-9))

    @property
    def shares(self) -> np.ndarray:
        """(N, 6) of the top."""
        return self.values / self.top

    @property
    def ticks(self) -> tuple[tuple[float, str], ...]:
        """Shares of the legend, and the numbers that stand there."""
        steps = _steps(self.top)
        return tuple((n / steps, _number(self.top * n / steps)) for n in range(steps + 1))

    @property
    def heading(self) -> str:
        return f"{self.kind.label} ({self.kind.unit})" if self.kind.unit else self.kind.label

    @property
    def lines(self) -> tuple[str, ...]:
        """What is told beside the colours."""
        if not self.values.size:
            return self.notes
        seen = self.seen
        words = ", ".join(f"{name} {_number(getattr(seen, name))}" for name in ("least", "median", "most"))
        return f"{len(self)} bricks: {words}", *self.notes

    @property
    def seen(self) -> Seen:
        """All sides of all bricks in a few numbers."""
        least, median, most = np.quantile(self.values, (0.0, 0.5, 1.0)).tolist() if self.values.size else (0.0,) * 3
        return Seen(self.kind.label, self.kind.unit, least, median, most, self.notes)

    def told(self, brick: int, name: str) -> str:
        """The numbers of one brick."""
        own = self.values[brick]
        if (own == own[0]).all():
            return f"{name}: {_number(own[0])}"
        return f"{name}: " + "  ".join(f"{side} {_number(each)}" for side, each in zip(SIDES, own, strict=True))


def _steps(top: float) -> int:
    first = top / 10.0 ** floor(log10(top) + 1e-9)
    return _STEPS[min(_STEPS, key=lambda each: abs(each - first))]


def _number(value: float) -> str:
    """With as many digits as are seen; 0 is 0."""
    return f"{value:.3g}" if abs(value) >= 0.0005 else "0"
