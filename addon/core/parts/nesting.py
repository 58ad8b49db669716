"""Which boxes come near each other, and which lie in others."""

import numpy as np

from ..errors import Crowded
from ..near import near_pairs

_LARGEST_MM, _FAR_MM = 1000.0, 1e6


def pairs(low: np.ndarray, high: np.ndarray, reach: float) -> np.ndarray:
    """Pairs (P, 2) of boxes in mm that come within reach; what is larger than a build, or that far off, has none."""
    middle = np.median(low, axis=0) if len(low) else 0.0
    sane = ((high - low) <= _LARGEST_MM).all(axis=1) & (np.abs(low - middle) <= _FAR_MM).all(axis=1)
    number = np.flatnonzero(sane)
    try:
        return number[near_pairs(low[number] - middle, high[number] - middle, reach)]
    except Crowded:  # at a scale that cannot be right
        return np.zeros((0, 2), dtype=np.int64)


def contained(low: np.ndarray, high: np.ndarray, mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (inner, outer) of boxes of which one lies in the other and is the smaller one."""
    size = (high - low).max(axis=1)
    scale = mm if mm != 1.0 else 16.0 / max(np.median(size), 1e-30)  # so that cells hold few boxes
    met = pairs(low * scale, high * scale, 0.0)
    return inside(low, high, np.concatenate([met, met[:, ::-1]]))


def inside(low: np.ndarray, high: np.ndarray, met: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of pairs `met` (P, 2) of boxes those of which the first lies in the second and is the smaller one."""
    inner, outer = met.T
    near = 1e-3 * (high - low)[outer].max(axis=1, keepdims=True)
    fits = (low[inner] >= low[outer] - near).all(axis=1) & (high[inner] <= high[outer] + near).all(axis=1)
    volume = (high - low).prod(axis=1)
    fits &= volume[inner] < 0.9 * volume[outer]
    return inner[fits], outer[fits]
