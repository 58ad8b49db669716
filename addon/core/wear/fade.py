"""Light-aged plastic: pale colours turn yellow, strong ones pale.

Sunlight oxidises the rubber in the plastic, which then absorbs blue, and breaks down dyes. Both are a thin layer at the
surface. How much of each a colour shows, and the tones it ages to, are common practice, no published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from . import cielab
from .tint import solved

ABSORBED = (0.06, 0.22, 1.0)  # shares of red, green and blue that a fully yellowed surface swallows
CHALK = (0.78, 0.76, 0.68)  # linear colour of a fully bleached one

_PALE_BELOW, _STRONG_ABOVE = 12.0, 45.0  # chroma in CIELAB
_DARK_BELOW, _LIGHT_ABOVE = 35.0, 70.0  # lightness in CIELAB
_LEAST_TWICE = 1.5  # less would let a brick that is dialled up fade less


@dataclass(frozen=True)
class Ageing:
    """What light has done to a surface; 0 nothing, 1 all it can."""

    yellowing: float = 0.0
    bleaching: float = 0.0


def ageing(colour: Sequence[float], delta_e: float) -> Ageing:
    """How a linear colour (3,) ages until it differs by delta_e (CIEDE2000) from its first self, or can no further."""
    new = np.asarray(colour, np.float64)
    yellow = float(paleness(cielab.lab(new)))
    amount = solved(lambda amounts: differences(np.broadcast_to(new, (len(amounts), 3)), amounts), delta_e, 1.0)
    return Ageing(yellow * amount, (1.0 - yellow) * amount)


def furthest(colour: Sequence[float]) -> float:
    """How far (CIEDE2000) a linear colour (3,) can age."""
    return float(differences(np.asarray(colour, np.float64), np.ones(())))


def twice(colour: Sequence[float], delta_e: float) -> float:
    """How many times as much a colour ages to differ by twice delta_e."""
    once, more = (ageing(colour, each) for each in (delta_e, 2.0 * delta_e))
    total = once.yellowing + once.bleaching
    return times(total, more.yellowing + more.bleaching)


def times(once: Any, more: Any) -> Any:
    """How many times the amount of ageing that takes a colour so far is another, which takes it twice as far."""
    return np.where(once > 0.0, np.maximum(more / np.where(once > 0.0, once, 1.0), _LEAST_TWICE), 2.0)[()]


def differences(colours: np.ndarray, amounts: np.ndarray) -> np.ndarray:
    """How far (CIEDE2000) linear colours (..., 3) lie from their first selves once they have aged so much (...)."""
    base = cielab.lab(colours)
    share, yellow = amounts[..., None], paleness(base)[..., None]
    return cielab.difference(base, cielab.lab(bleached_and_yellowed(colours, yellow * share, (1.0 - yellow) * share)))


def aged(colour: Sequence[float], ageing: Ageing) -> np.ndarray:
    """A linear colour (3,) as light has left it: the formula of the node group."""
    return bleached_and_yellowed(np.asarray(colour, np.float64), ageing.yellowing, ageing.bleaching)


def bleached_and_yellowed(colour: np.ndarray, yellowing: Any, bleaching: Any) -> np.ndarray:
    """Linear colours (..., 3) as light has left them, by shares of both that fit their shape."""
    bleached = colour + bleaching * (np.asarray(CHALK) - colour)
    return bleached * (1.0 - yellowing * np.asarray(ABSORBED))


def paleness(lab: np.ndarray) -> np.ndarray:
    """1 for white and its like, 0 for strong and for dark colours, of CIELAB ones (..., 3)."""
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    weak = np.clip((_STRONG_ABOVE - chroma) / (_STRONG_ABOVE - _PALE_BELOW), 0.0, 1.0)
    light = np.clip((lab[..., 0] - _DARK_BELOW) / (_LIGHT_ABOVE - _DARK_BELOW), 0.0, 1.0)
    return weak * light
