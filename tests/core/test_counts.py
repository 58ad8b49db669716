"""Parts numbered in their own things, against one loop after another, and some of many things."""

import numpy as np
import pytest

from addon.core.counts import evenly, within


@pytest.mark.parametrize("count", [[3, 0, 1, 2], [0, 0, 4], [1, 0], [0], []])
def test_each_part_has_its_number_in_its_own_thing(count):
    assert within(np.array(count, dtype=np.int64)).tolist() == [n for each in count for n in range(each)]


@pytest.mark.parametrize("number", [0, 1, 2, 7, 48, 1000])
@pytest.mark.parametrize("most", [1, 7, 48])
def test_some_of_many_are_all_or_evenly_spread(number, most):
    found = evenly(number, most).tolist()
    assert len(found) == min(number, most) == len(set(found))
    assert number > most or found == list(range(number))
    if most > 1 and number:
        assert (found[0], found[-1]) == (0, number - 1)
        steps = np.diff(found)
        assert not len(steps) or steps.max() - steps.min() <= 1
