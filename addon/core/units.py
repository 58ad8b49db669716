"""The one place where units are converted.

People read millimetres, micrometres and degrees; the core works in millimetres and radians.
"""

from math import pi

MM_PER_METRE = 1000.0
UM_PER_MM = 1000.0
RADIANS_PER_DEGREE = pi / 180.0


def radians(degrees):
    """Degrees to radians; a number or an array."""
    return degrees * RADIANS_PER_DEGREE


def degrees(radians):
    """Radians to degrees; a number or an array."""
    return radians / RADIANS_PER_DEGREE
