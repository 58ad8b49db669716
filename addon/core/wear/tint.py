"""Colour lots: bricks of one colour were moulded from several batches of granulate, each a little off the others.

A brick's lot depends on its key alone and is exact to the bit. How far the lots of one material lie apart is solved
from its colour, so that the widest lot differs by the limit in CIEDE2000; that uses the machine's mathematical library.
"""

from collections.abc import Callable, Sequence

import numpy as np

from .. import draws
from . import cielab

WIDEST = 0.5  # share by which a channel may change: what a colour near black, which shows no lot, ends at

_ROUNDS, _STEPS = 5, 64
_CHANNEL = 101  # of the draws, apart from the seed's and the fit's
_SEED = 0  # the same brick is of the same lot in every build, preset and shot

# Share of the bricks, and how red, green and blue deviate, 1 being the widest. One lot is the colour as given; the
# others are lighter or darker more than warmer or cooler. Common practice, no published source.
_LOTS = (
    (0.36, (0.0, 0.0, 0.0)),
    (0.24, (0.55, 0.45, 0.35)),
    (0.18, (-0.60, -0.55, -0.70)),
    (0.13, (0.90, 0.75, 0.40)),
    (0.09, (-0.75, -0.95, -1.00)),
)
_SHARES = np.array([share for share, _ in _LOTS])
LOTS = np.array([deviation for _, deviation in _LOTS])


def lots(keys: np.ndarray) -> np.ndarray:
    """The lot of each brick key (N,) as deviations of red, green and blue (N, 3) from -1 to 1."""
    which = np.searchsorted(np.cumsum(_SHARES)[:-1], draws.uniform(_SEED, keys, _CHANNEL), side="right")
    return LOTS[which]


def tinted(colour: Sequence[float], lot: np.ndarray, spread: float | np.ndarray) -> np.ndarray:
    """A linear colour (3,) as it looks in a lot (..., 3): the formula of the node group."""
    return np.asarray(colour, np.float64) * (1.0 + spread * lot)


def spread(colour: Sequence[float], delta_e: float) -> float:
    """How far the lots of a linear colour lie apart, so that none differs from it by more than delta_e (CIEDE2000)."""
    one = np.asarray(colour, np.float64)
    return solved(lambda shares: widest(np.broadcast_to(one, (len(shares), 3)), shares), delta_e, WIDEST)


def furthest(colour: Sequence[float]) -> float:
    """How far (CIEDE2000) the lots of a linear colour (3,) can lie from it."""
    return float(widest(np.asarray(colour, np.float64)[None], np.array([WIDEST]))[0])


def widest(colours: np.ndarray, spreads: np.ndarray) -> np.ndarray:
    """How far (CIEDE2000) the widest lots of linear colours (k, 3) lie from them at such spreads (k,)."""
    lots = colours[:, None] * (1.0 + spreads[:, None, None] * LOTS[1:])
    return cielab.difference(cielab.lab(colours)[:, None], cielab.lab(lots)).max(axis=1)


def solved(difference: Callable[[np.ndarray], np.ndarray], delta_e: float, most: float) -> float:
    """The amount, 0 to `most`, up to which a `difference` stays within delta_e; it takes and gives arrays (k,).

    Looked for on a grid that is refined around the last amount within, to 1e-9 of `most`.
    """
    if delta_e <= 0.0:
        return 0.0
    low, high = 0.0, most
    for _ in range(_ROUNDS):
        amounts = np.linspace(low, high, _STEPS + 1)
        beyond = np.flatnonzero(difference(amounts) > delta_e)
        if not len(beyond):
            return high
        low, high = float(amounts[max(beyond[0] - 1, 0)]), float(amounts[beyond[0]])
    return low
