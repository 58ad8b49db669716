"""The wear's draws of a brick: its shares of the amounts, how its marks lie, so that no two show the same, and where
those lie that it shares with its neighbours.

Only the draws and + - * / are used, so that every machine gives the same bits.
"""

import numpy as np

from .. import draws, rigid
from .layers import SHARES

# Channels of the draws, apart from the fit's, the colour lots' and the layers': never renumber, or every file's marks
# move.
_OFFSET, _TURN = (102, 103, 104), 105
_SEED = 0  # the same brick wears the same in every build, preset and shot
_REACH_MM = 1000.0  # far beyond any repeat, yet exact to 0.1 µm in single precision


def shares(keys: np.ndarray) -> np.ndarray:
    """The shares (N, S) that each brick key (N,) has of the strengths of the layers that have any, in their order."""
    drawn = [each.least + each.span * draws.uniform(_SEED, keys, each.channel) for each in SHARES.values()]
    return np.stack(drawn, axis=1)


def offsets(keys: np.ndarray) -> np.ndarray:
    """How far (N, 3) in mm the marks of each brick key (N,) are shifted."""
    return _REACH_MM * np.stack([draws.uniform(_SEED, keys, channel) for channel in _OFFSET], axis=1)


def turns(keys: np.ndarray, mm: np.ndarray, studded: np.ndarray | bool = False) -> np.ndarray:
    """Sine and cosine of the angle by which marks are turned, times the mm (N,) of a brick's unit, and these: (N, 3).

    These are less than 0 on bricks (N,) whose studs shaders find by counting pitches: a property more were a search.

    cos p + sin (1, 1, 1) x p turns all three planes of a box projection by one angle, with no stretch. Angles lie
    between -90° and 90°; sine and cosine come from the tangent of the half angle, a draw between -1 and 1.
    """
    tangent = 2.0 * draws.uniform(_SEED, keys, _TURN) - 1.0
    whole = 1.0 + tangent * tangent
    sine, cosine = 2.0 * tangent / whole, (1.0 - tangent * tangent) / whole
    return np.stack([sine, cosine, np.where(studded, -1.0, np.ones_like(sine))], axis=1) * mm[:, None]


def spots(turn: np.ndarray, origin: np.ndarray, middle: np.ndarray, mm: np.ndarray) -> np.ndarray:
    """Where bricks stand in the build, along their own axes, for marks that run on from one to the next: (N, 3).

    turn (N, 3, 3), origin (N, 3) and middle (N, 3) are those of a build at rest: part axes to build axes, the part's
    origin there in mm, and in the mesh in units of `mm` (N,). A point p of a mesh lies at mm p + spot along the axes
    that it has in the build; bricks with the same axes, but for quarter turns about the upright one, share them on
    their sides.
    """
    return rigid.turned(rigid.transpose(turn), origin) - middle * mm[:, None]
