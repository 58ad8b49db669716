"""Textures made equally strong, so that an amount means the same whichever picture drives the layer.

The strength of a texture is the mean of its marks over the whole picture, 0 clean to 1 strongest: for scratches the
mean depth, for a film or dust the mean cover. Every texture is brought to the strength of the stand-in of its kind.
"""

from dataclasses import replace

import numpy as np

from .layers import PICTURES
from .texture import Levels

LARGEST_GAIN = 8.0  # more would draw the grain of an all but empty picture

_SAMPLES = 4096
_HALVINGS = 40


def strength(marks: np.ndarray) -> float:
    """Mean of the marks."""
    return float(marks.mean())


def gain(marks: np.ndarray, kind: str) -> float:
    """By what the marks are multiplied, and cut at 1, to be as strong as the stand-in of their kind.

    At most LARGEST_GAIN, and 1 where there are no marks or the kind is none that a layer uses.
    """
    if kind not in PICTURES or not marks.any():
        return 1.0
    return _gain_to(marks, PICTURES[kind].strength)


def twice(marks: np.ndarray) -> float:
    """By what they are multiplied, and cut at 1, to be twice as strong: at most LARGEST_GAIN, where all are full."""
    return max(_gain_to(marks, 2.0 * strength(marks)), 2.0) if marks.any() else 2.0


def _gain_to(marks: np.ndarray, wanted: float) -> float:
    spread = np.quantile(marks, (np.arange(_SAMPLES) + 0.5) / _SAMPLES)
    low, high = 0.0, LARGEST_GAIN
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        weak = strength(np.minimum(middle * spread, 1.0)) < wanted
        low, high = (middle, high) if weak else (low, middle)
    return high


def equalised(levels: Levels, grey: np.ndarray, kind: str) -> Levels:
    """Levels that read the marks of a picture as strong as the stand-in of its kind."""
    by = gain(levels.marks(grey), kind)
    read = Levels(levels.clean, levels.clean + (levels.marked - levels.clean) / by)
    return replace(read, twice=twice(read.marks(grey)))
