"""Light-aged colours lie as far from the new ones as the dial says, in the direction that plastic takes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core.wear import cielab, fade

COLOURS = st.tuples(*[st.floats(0.0, 1.0)] * 3)
WHITE, GREY = (0.80, 0.80, 0.78), (0.35, 0.36, 0.37)
RED, BLUE, GREEN, BLACK = (0.50, 0.01, 0.01), (0.01, 0.05, 0.40), (0.01, 0.25, 0.05), (0.008, 0.008, 0.009)


def moved(colour, delta_e):
    new, old = cielab.lab(colour), cielab.lab(fade.aged(colour, fade.ageing(colour, delta_e)))
    return float(cielab.difference(new, old)), old - new, np.hypot(*old[1:]) - np.hypot(*new[1:])


@given(COLOURS, st.floats(0.0, 20.0))
def test_the_dial_is_the_difference(colour, delta_e):
    ageing = fade.ageing(colour, delta_e)
    assert 0.0 <= ageing.yellowing <= 1.0
    assert 0.0 <= ageing.bleaching <= 1.0
    if ageing.yellowing + ageing.bleaching < 1.0 - 1e-9:
        assert moved(colour, delta_e)[0] == pytest.approx(delta_e, abs=1e-6)
    else:
        assert moved(colour, delta_e)[0] <= delta_e + 1e-9


@pytest.mark.parametrize("colour", [WHITE, GREY, RED, BLUE, GREEN, BLACK])
def test_every_colour_of_a_brick_can_age_by_ten(colour):
    assert moved(colour, 10.0)[0] == pytest.approx(10.0, abs=1e-6)


@pytest.mark.parametrize("colour", [WHITE, GREY])
def test_pale_colours_turn_yellow(colour):
    """Weathered ABS: b* rises by 5 to 20, the lightness falls a little; range common practice, no published source."""
    _, (light, red, yellow), _ = moved(colour, 8.0)
    assert 5.0 < yellow < 20.0
    assert -6.0 < light < 0.0
    assert abs(red) < 0.4 * yellow


@pytest.mark.parametrize("colour", [RED, BLUE, GREEN])
def test_strong_colours_turn_pale(colour):
    _, (light, _, _), chroma = moved(colour, 8.0)
    assert light > 0.0
    assert chroma < -3.0


def test_no_light_is_no_change():
    assert fade.ageing(RED, 0.0) == fade.Ageing()
    assert np.array_equal(fade.aged(RED, fade.Ageing()), RED)


@given(COLOURS, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_aged_colours_stay_colours(colour, yellowing, bleaching):
    old = fade.aged(colour, fade.Ageing(yellowing, bleaching))
    assert (old >= 0.0).all()
    assert (old <= 1.0).all()
