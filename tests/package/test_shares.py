"""What is left to others is run by them: together the three Blenders and both Pythons go through every case."""

from dataclasses import dataclass

import pytest

from tests import shares


@dataclass(frozen=True)
class Item:
    nodeid: str
    is_shared_out: bool = False

    def get_closest_marker(self, name: str) -> bool:
        return self.is_shared_out


ONE, MANY = "tests/blender/test_a.py::test_one", "tests/blender/test_a.py::test_many"
CASES = [Item(f"{MANY}[{n}]") for n in range(12)]
LONG = [Item(f"tests/render/test_b.py::test_long[{n}]", is_shared_out=True) for n in range(12)]
MATHS = [Item(f"tests/core/test_c.py::test_sums[{n}]") for n in range(12)]
ITEMS = [Item(ONE), *CASES, *LONG, *MATHS]
RUNS = [(blender, is_new) for blender in range(3) for is_new in (False, True)]


@pytest.fixture
def taken(monkeypatch):
    """What each Blender and Python takes."""
    found = {}
    for blender, is_new in RUNS:
        monkeypatch.setattr(shares, "PYTHON", is_new)
        left = shares.others(ITEMS, blender)
        found[blender, is_new] = [item for item in ITEMS if item not in left]
    return found


def test_every_case_is_taken_and_those_of_the_maths_once_a_python(taken):
    assert {item for items in taken.values() for item in items} == set(ITEMS)
    for item in MATHS:
        assert len({is_new for (_, is_new), items in taken.items() if item in items}) == 1
    for item in [*CASES[1:], *LONG]:
        assert len({blender for (blender, _), items in taken.items() if item in items}) == 1


def test_every_blender_goes_through_every_test_that_is_not_shared_out(taken):
    for items in taken.values():
        assert Item(ONE) in items
        assert any(case in items for case in CASES)
