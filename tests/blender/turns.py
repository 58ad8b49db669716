"""Long lists are shared out among the three Blenders: each takes every third, and begins elsewhere."""

from collections.abc import Sequence
from typing import TypeVar

import bpy

Thing = TypeVar("Thing")

NUMBER = (10 * bpy.app.version[0] + bpy.app.version[1]) % 3  # of this Blender: 4.5 is 0, 5.2 is 1, 5.0 is 2


def third(things: Sequence[Thing]) -> Sequence[Thing]:
    return things[NUMBER::3]
