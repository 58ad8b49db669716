"""Numbers of things: of the parts of each, all one after another in one array, and of some among many."""

import numpy as np


def within(count: np.ndarray) -> np.ndarray:
    """The number of each part in its own thing, (sum of count,): 0, 1, … for the first of things (N,), and so on."""
    return np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)


def evenly(number: int, most: int) -> np.ndarray:
    """Which of so many things are looked at where only the `most` may be: all, or some evenly spread from the first to
    the last."""
    return np.linspace(0, number - 1, min(number, most)).astype(int)
