"""Which tests are another's to run: the three Blenders share out the cases of a test, the two Pythons the maths."""

import sys
from collections.abc import Iterable
from itertools import groupby
from zlib import crc32

import pytest

PYTHON = sys.version_info >= (3, 12)  # 3.11 is that of Blender 4.5 and 5.0, 3.13 that of 5.2


def others(items: Iterable[pytest.Item], blender: int) -> dict[pytest.Item, None]:
    """Those that this Blender, of the numbers 0 to 2, leaves to the others. Of a test with cases it takes every third,
    one at least; of what is `shared_out` its third alone, and of what needs no Blender what falls to its Python."""
    found = {}
    for _, group in groupby(items, key=_function):
        cases = list(group)
        mine = _mine(cases, blender)
        found |= {item: None for item in cases if item not in mine}
    return found


def _function(item: pytest.Item) -> str:
    return item.nodeid.partition("[")[0]


def _mine(cases: list[pytest.Item], blender: int) -> list[pytest.Item]:
    """By the names of the cases, some of which are there on one Blender alone."""
    if cases[0].nodeid.startswith("tests/core/"):
        return [item for item in cases if _turn(item) % 2 == PYTHON]
    mine = [item for item in cases if _turn(item) % 3 == blender]
    return mine if mine or cases[0].get_closest_marker("shared_out") else cases[:1]


def _turn(item: pytest.Item) -> int:
    return crc32(item.nodeid.encode())
