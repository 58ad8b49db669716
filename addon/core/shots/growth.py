"""Wear that grows within a shot: straight from one value at its first frame to another at its last."""

from dataclasses import dataclass
from math import ceil, inf

import numpy as np


@dataclass(frozen=True)
class Growth:
    """A value over the frames of the timeline; before the first frame it is `start`, after the last `end`."""

    start: float
    end: float
    first: int
    last: int

    @property
    def is_still(self) -> bool:
        return self.start == self.end or self.first == self.last

    def at(self, frames: np.ndarray | float) -> np.ndarray:
        """The value at some frames; of a shot of one frame it is `start`."""
        if self.is_still:
            return np.full(np.shape(frames), self.start)
        return np.interp(frames, (self.first, self.last), (self.start, self.end))

    def keys(self, cut: float, until: float = inf) -> tuple[list[float], list[bool]]:
        """When it has keys where it holds from one cut to another, and whether it runs straight to the next of them or
        stays. A shot that is cut off stops on its last whole frame, on the way."""
        last = self.last if until > self.last else ceil(until) - 1
        times = [cut] if self.is_still else [cut, *(time for time in (self.first, last) if cut < time < until)]
        return times, [not self.is_still and self.first <= time < last for time in times]
