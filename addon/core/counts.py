"""Things that each have so many parts, with all parts one after another in one array."""

import numpy as np


def within(count: np.ndarray) -> np.ndarray:
    """The number of each part in its own thing, (sum of count,): 0, 1, … for the first of things (N,), and so on."""
    return np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
