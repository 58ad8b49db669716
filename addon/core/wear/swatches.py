"""What a colour needs to age and to differ from lot to lot as far as asked, for a lattice of colours through all.

Where a colour is known at a point only, in a picture or painted on a mesh, shaders look its own up: no formula that is
short enough for them comes near CIEDE2000. The lattice is even in encoded colours, near to how an eye tells them apart,
and lies in one picture: a square of red by green for each blue, the squares in rows.
"""

from collections.abc import Callable
from functools import partial

import numpy as np

from .. import threads
from ..remembered import keeping
from . import cielab, fade, tint

SIDE = 33  # colours of the lattice along each of red, green and blue
SQUARES = 6  # in a row of the picture
GAMMA = 1.0 / 2.2  # the power that encodes a linear colour
SPREAD, YELLOWING, BLEACHING, TWICE = range(4)  # channels; the last is so much more than twice, as shaders take it

VERSION = 1  # of the lattice and of what it tells

_STEPS = 3  # towards an amount, once it lies between two
_LEAST = 1e-12
_AT_ONCE = 4096  # colours

Difference = Callable[[np.ndarray], np.ndarray]


@keeping(4, of_session=True)
def picture(tint_delta_e: float, fade_delta_e: float) -> np.ndarray:
    """The picture (rows, columns, 4), rows upwards, float32, for bricks that differ so far (CIEDE2000)."""
    blue, green, red = np.meshgrid(*[np.linspace(0.0, 1.0, SIDE) ** (1.0 / GAMMA)] * 3, indexing="ij")
    colours = np.stack((red, green, blue), axis=-1).reshape(-1, 3)
    found = threads.joined(lambda some: needs(colours[some], tint_delta_e, fade_delta_e), len(colours), _AT_ONCE)
    squares = np.zeros((SQUARES**2, SIDE, SIDE, 4), np.float32)
    squares[:SIDE] = found.reshape(SIDE, SIDE, SIDE, 4)
    rows = squares.reshape(SQUARES, SQUARES, SIDE, SIDE, 4).swapaxes(1, 2)
    return np.ascontiguousarray(rows).reshape(SQUARES * SIDE, SQUARES * SIDE, 4)


def needs(colours: np.ndarray, tint_delta_e: float, fade_delta_e: float) -> np.ndarray:
    """What each linear colour (k, 3) needs: the spread of its lots, its yellowing and bleaching, and how much more than
    twice that of both takes it twice as far (k, 4)."""
    found = np.zeros((len(colours), 4))
    if tint_delta_e > 0.0:
        (spread,) = _first(partial(tint.widest, colours), [tint_delta_e], tint.WIDEST, 2, len(colours))
        found[:, SPREAD] = spread
    if fade_delta_e > 0.0:
        wanted = [fade_delta_e, 2.0 * fade_delta_e]
        once, more = _first(partial(fade.differences, colours), wanted, 1.0, 10, len(colours))
        yellow = fade.paleness(cielab.lab(colours))
        found[:, YELLOWING], found[:, BLEACHING] = yellow * once, (1.0 - yellow) * once
        found[:, TWICE] = fade.times(once, more) - 2.0
    return found


def _first(difference: Difference, wanted: list[float], most: float, starts: int, number: int) -> list[np.ndarray]:
    """The first amounts (number,), `starts` of them looked at before, where a difference is as wanted, else `most`."""
    amounts = most * (np.arange(starts + 1) / starts) ** 2
    seen = np.array([difference(np.full(number, amount)) for amount in amounts])
    return [_reached(difference, amounts, seen - each) for each in wanted]


def _reached(difference: Difference, amounts: np.ndarray, off: np.ndarray) -> np.ndarray:
    """The first amounts (k,) at which what a difference is off (amounts, k) from the one wanted is nothing."""
    column, steps = np.arange(off.shape[1]), len(amounts) - 1
    beyond = off > 0.0
    at = np.where(beyond.any(axis=0), np.maximum(beyond.argmax(axis=0), 1), steps)
    wanted = -off[0]
    low, high, below, above = amounts[at - 1], amounts[at], off[at - 1, column], off[at, column]
    for _ in range(_STEPS):  # by straight lines, as differences all but are
        amount = high - above * (high - low) / np.maximum(above - below, _LEAST)
        here = difference(amount) - wanted
        over = here > 0.0
        low, below = np.where(over, low, amount), np.where(over, below, here)
        high, above = np.where(over, amount, high), np.where(over, here, above)
    return np.where(beyond.any(axis=0), amount, amounts[-1])
