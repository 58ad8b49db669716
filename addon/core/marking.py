"""The wear's draws of a brick: its own number, and how its marks are shifted and turned, so that no two show the same.

Only the draws and + - * / are used, so that every machine gives the same bits.
"""

import numpy as np

from . import draws

# Channels of the draws, apart from the fit's and the colour lots': never renumber, or every file's marks move.
_NUMBER, _OFFSET, _TURN = 100, (102, 103, 104), 105
_SEED = 0  # the same brick wears the same in every build, preset and shot
_REACH_MM = 1000.0  # far beyond any repeat, yet exact to 0.1 µm in single precision


def numbers(keys: np.ndarray) -> np.ndarray:
    """The own number (N,) of each brick key (N,), between 0 and 1 and neither of them."""
    return draws.uniform(_SEED, keys, _NUMBER)


def offsets(keys: np.ndarray) -> np.ndarray:
    """How far (N, 3) in mm the marks of each brick key (N,) are shifted."""
    return _REACH_MM * np.stack([draws.uniform(_SEED, keys, channel) for channel in _OFFSET], axis=1)


def turns(keys: np.ndarray, mm: np.ndarray) -> np.ndarray:
    """Sine, thrice, and cosine (N, 4) of the angle by which marks are turned, times the mm (N,) of a brick's unit.

    cos p + sin (1, 1, 1) x p turns all three planes of a box projection by one angle, with no stretch. Angles lie
    between -90° and 90°; sine and cosine come from the tangent of the half angle, a draw between -1 and 1.
    """
    tangent = 2.0 * draws.uniform(_SEED, keys, _TURN) - 1.0
    whole = 1.0 + tangent * tangent
    sine, cosine = 2.0 * tangent / whole, (1.0 - tangent * tangent) / whole
    return np.stack([sine, sine, sine, cosine], axis=1) * mm[:, None]
