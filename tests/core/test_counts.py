"""Parts numbered in their own things, against one loop after another."""

import numpy as np
import pytest

from addon.core.counts import within


@pytest.mark.parametrize("count", [[3, 0, 1, 2], [0, 0, 4], [1, 0], [0], []])
def test_each_part_has_its_number_in_its_own_thing(count):
    assert within(np.array(count, dtype=np.int64)).tolist() == [n for each in count for n in range(each)]
