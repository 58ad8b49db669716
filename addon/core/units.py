"""The one place where units are converted.

People read millimetres, micrometres and degrees; the core works in millimetres and radians.
"""

from math import pi
from typing import overload

import numpy as np

MM_PER_METRE = 1000.0
UM_PER_MM = 1000.0
RADIANS_PER_DEGREE = pi / 180.0


@overload
def radians(degrees: float) -> float: ...
@overload
def radians(degrees: np.ndarray) -> np.ndarray: ...
def radians(degrees: float | np.ndarray) -> float | np.ndarray:
    """Degrees to radians; a number or an array."""
    return degrees * RADIANS_PER_DEGREE


@overload
def degrees(radians: float) -> float: ...
@overload
def degrees(radians: np.ndarray) -> np.ndarray: ...
def degrees(radians: float | np.ndarray) -> float | np.ndarray:
    """Radians to degrees; a number or an array."""
    return radians / RADIANS_PER_DEGREE
