"""The light of a window: from one side, somewhat from above, a little of it scattered by the room."""

import numpy as np

from ... import units

_HEIGHT_DEG = 25.0  # of its middle over the horizon, as a build on a sill or a shelf sees it
_NARROW = 6.0  # how much it is one way: the light of a direction is the cosine to its middle to this power
_OF_THE_ROOM = 0.1  # share of the light that comes from all of the sky
# All three: common practice, no published source.


def weights(directions: np.ndarray, window_deg: float) -> np.ndarray:
    """What comes from each direction (D, 3), so that an upright side that faces the window gets 1 with nothing in the
    way; window_deg: from the build's own x axis anticlockwise, seen from above."""
    turn, height = units.radians(window_deg), units.radians(_HEIGHT_DEG)
    level = np.array([np.cos(turn), np.sin(turn), 0.0])
    middle = np.cos(height) * level + np.sin(height) * np.array([0.0, 0.0, 1.0])
    found = np.maximum(directions @ middle, 0.0) ** _NARROW
    return found / float((found * np.maximum(directions @ level, 0.0)).sum())


def light(lit: np.ndarray, sky: np.ndarray) -> np.ndarray:
    """What places get in all, at most 1, from the window's light and from the sky that they see."""
    return np.minimum((1.0 - _OF_THE_ROOM) * lit + 2.0 * _OF_THE_ROOM * sky, 1.0)  # an upright side sees half of it
