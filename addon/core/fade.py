"""Light-aged plastic: pale colours turn yellow, strong ones pale.

Sunlight oxidises the rubber in the plastic, which then absorbs blue, and breaks down dyes. Both are a thin layer at the
surface. How much of each a colour shows, and the tones it ages to, are common practice, no published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from . import cielab
from .tint import solved

ABSORBED = (0.05, 0.16, 1.0)  # shares of red, green and blue that a fully yellowed surface swallows
CHALK = (0.78, 0.76, 0.68)  # linear colour of a fully bleached one

_PALE_BELOW, _STRONG_ABOVE = 12.0, 45.0  # chroma in CIELAB
_DARK_BELOW, _LIGHT_ABOVE = 35.0, 70.0  # lightness in CIELAB


@dataclass(frozen=True)
class Ageing:
    """What light has done to a surface; 0 nothing, 1 all it can."""

    yellowing: float = 0.0
    bleaching: float = 0.0


def ageing(colour: Sequence[float], delta_e: float) -> Ageing:
    """How a linear colour (3,) ages until it differs by delta_e (CIEDE2000) from its first self, or can no further."""
    base = cielab.lab(np.asarray(colour, np.float64))
    yellow = _paleness(base)

    def difference(amounts: np.ndarray) -> np.ndarray:
        share = amounts[:, None]
        return cielab.difference(base, cielab.lab(_aged(colour, yellow * share, (1.0 - yellow) * share)))

    amount = solved(difference, delta_e, 1.0)
    return Ageing(yellow * amount, (1.0 - yellow) * amount)


def aged(colour: Sequence[float], ageing: Ageing) -> np.ndarray:
    """A linear colour (3,) as light has left it: the formula of the node group."""
    return _aged(np.asarray(colour, np.float64), ageing.yellowing, ageing.bleaching)


def _aged(colour, yellowing, bleaching) -> np.ndarray:
    bleached = colour + bleaching * (np.asarray(CHALK) - colour)
    return bleached * (1.0 - yellowing * np.asarray(ABSORBED))


def _paleness(lab: np.ndarray) -> float:
    """1 for white and its like, 0 for strong and for dark colours."""
    chroma = float(np.hypot(lab[1], lab[2]))
    weak = np.clip((_STRONG_ABOVE - chroma) / (_STRONG_ABOVE - _PALE_BELOW), 0.0, 1.0)
    light = np.clip((lab[0] - _DARK_BELOW) / (_LIGHT_ABOVE - _DARK_BELOW), 0.0, 1.0)
    return float(weak * light)
