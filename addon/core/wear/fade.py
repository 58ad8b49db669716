"""Light-aged plastic: pale colours turn yellow, strong ones pale.

Sunlight oxidises the rubber in the plastic, which then absorbs blue, and breaks down dyes. Both are a thin layer at the
surface. How much of each a colour shows, and the tones it ages to, are common practice, no published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..remembered import keeping
from . import cielab
from .tint import solved

ABSORBED = (0.06, 0.22, 1.0)  # shares of red, green and blue that a fully yellowed surface swallows
CHALK = (0.78, 0.76, 0.68)  # linear colour of a fully bleached one

_PALE_BELOW, _STRONG_ABOVE = 12.0, 45.0  # chroma in CIELAB
_DARK_BELOW, _LIGHT_ABOVE = 35.0, 70.0  # lightness in CIELAB

# What stands for these where a colour is known at a point only, in a picture: an eye for chroma is too dear there.
LUMINANCE = (0.2126, 0.7152, 0.0722)  # of linear red, green and blue: ITU-R BT.709
SATURATED, GREY = 0.9, 0.15  # saturation of strong colours and of pale ones
DARK, LIGHT = 0.085, 0.407  # luminance of the lightnesses above: CIE 1976
SHOWS_MOST, SHOWS_LESS = 0.075, 0.925  # a light colour has to bleach this much more than black to differ as much
_LEAST_TWICE = 1.5  # less would let a brick that is dialled up fade less
_WHITE = (0.8, 0.8, 0.8)
_STRONG = ((0.5, 0.01, 0.02), (0.8, 0.2, 0.01), (0.8, 0.5, 0.01), (0.02, 0.2, 0.04), (0.01, 0.05, 0.4))


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


@keeping(64)  # a build has many materials and one dial
def ageing_anywhere(delta_e: float) -> Ageing:
    """How a picture ages by `aged_anywhere`: white differs by delta_e, strong colours do in the mean."""
    strong = np.asarray(_STRONG)

    def difference(amounts: np.ndarray) -> np.ndarray:
        found = [aged_anywhere(strong, Ageing(0.0, amount)) for amount in amounts]
        return cielab.difference(cielab.lab(strong), cielab.lab(np.array(found))).mean(axis=-1)

    return Ageing(ageing(_WHITE, delta_e).yellowing, solved(difference, delta_e, 1.0))


def twice(colour: Sequence[float] | None, delta_e: float) -> float:
    """How many times as much a colour, None one that differs from point to point, ages to differ by twice delta_e."""
    once, more = (
        ageing_anywhere(each) if colour is None else ageing(colour, each) for each in (delta_e, 2.0 * delta_e)
    )
    shares = [(once.yellowing, more.yellowing), (once.bleaching, more.bleaching)]
    ratios = [two / one for one, two in shares if one > 0.0]
    return max(sum(ratios) / len(ratios), _LEAST_TWICE) if ratios else 2.0


def aged_anywhere(colours: np.ndarray, ageing: Ageing) -> np.ndarray:
    """Linear colours (..., 3) each aged as it needs: the formula of the node group for colours out of pictures."""
    luminance = colours @ np.asarray(LUMINANCE)
    most = np.maximum(colours.max(axis=-1), 1e-9)
    saturation = 1.0 - colours.min(axis=-1) / most
    pale = np.clip((SATURATED - saturation) / (SATURATED - GREY), 0.0, 1.0)
    yellow = pale * np.clip((luminance - DARK) / (LIGHT - DARK), 0.0, 1.0)
    bleached = (1.0 - yellow) * (SHOWS_MOST + SHOWS_LESS * luminance)
    return _aged(colours, (yellow * ageing.yellowing)[..., None], (bleached * ageing.bleaching)[..., None])


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
