"""Colour lots stay within their limit whatever the colour, and a brick's lot is its own."""

import hashlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core import draws
from addon.core.wear import cielab, tint

KEYS = draws.mixed(np.arange(20_000, dtype=np.uint64))
COLOURS = st.tuples(*[st.floats(0.0, 1.0)] * 3)


@given(COLOURS, st.floats(0.0, 3.0), st.floats(0.0, 1.0))
def test_no_lot_leaves_the_limit_and_the_widest_reaches_it(colour, delta_e, part):
    spread = tint.spread(colour, delta_e)
    apart = cielab.difference(cielab.lab(colour), cielab.lab(tint.tinted(colour, tint.LOTS, spread)))
    assert apart.max() <= delta_e + 1e-9
    if spread < tint.WIDEST:
        assert apart.max() == pytest.approx(delta_e, abs=1e-6)
    less = cielab.difference(cielab.lab(colour), cielab.lab(tint.tinted(colour, tint.LOTS, part * spread)))
    assert less.max() <= delta_e + 1e-9


def test_no_limit_is_no_tint():
    assert tint.spread((0.3, 0.2, 0.1), 0.0) == 0.0
    assert np.array_equal(tint.tinted((0.3, 0.2, 0.1), tint.LOTS, 0.0), np.broadcast_to((0.3, 0.2, 0.1), (5, 3)))


def test_a_lot_depends_on_the_key_alone():
    order = np.random.default_rng(0).permutation(len(KEYS))
    assert np.array_equal(tint.lots(KEYS[order]), tint.lots(KEYS)[order])
    assert np.array_equal(tint.lots(KEYS[:7]), tint.lots(KEYS)[:7])


def test_lots_are_the_same_bits_everywhere():
    """The digest was taken once; integers, + - * / and comparisons give it on every machine."""
    digest = hashlib.sha256(tint.lots(KEYS).tobytes()).hexdigest()
    assert digest == "3916f6d3e463cd360b38923dc1524b8d76ced9af0c1a00ebce64015a820ab308"


def test_bricks_come_from_few_lots_in_uneven_shares():
    found, counts = np.unique(tint.lots(KEYS), axis=0, return_counts=True)
    assert len(found) == 5
    # Common practice, no published source: one lot leads, none is a rarity. Five deviations of a binomial share.
    slack = 5 * 0.5 / np.sqrt(len(KEYS))
    assert sorted(counts / len(KEYS)) == pytest.approx([0.09, 0.13, 0.18, 0.24, 0.36], abs=slack)
