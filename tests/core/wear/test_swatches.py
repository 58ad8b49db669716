"""What shaders look up for any colour takes it as far as what is worked out for that colour alone.

Distances are CIEDE2000 by `core.cielab`, which is held against the published pairs in test_cielab.py. The same was once
judged by colour-science 0.4.7 on 4096 colours out of renders.
"""

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from addon.core.wear import cielab, fade, swatches, tint

LATTICE = np.linspace(0.0, 1.0, swatches.SIDE)
COLOURS = cielab.decoded(np.random.default_rng(5).random((3000, 3)))


def looked_up(tint_delta_e, fade_delta_e, colours=COLOURS):
    """The picture as a lattice of its own again, between whose points scipy takes the straight way."""
    picture = swatches.picture(tint_delta_e, fade_delta_e)
    squares = [picture[row : row + swatches.SIDE, column : column + swatches.SIDE] for row, column in corners()]
    by_colour = np.array(squares)[: swatches.SIDE].transpose(2, 1, 0, 3)  # blue, green, red before
    return RegularGridInterpolator((LATTICE,) * 3, by_colour)(colours**swatches.GAMMA)


def corners():
    sides = range(0, swatches.SQUARES * swatches.SIDE, swatches.SIDE)
    return [(row, column) for row in sides for column in sides]


@pytest.mark.parametrize("asked", [3.0, 6.0, 13.0, 20.0])
def test_any_colour_ages_as_far_as_asked_or_as_it_can(asked):
    _, yellowing, bleaching, _ = looked_up(0.0, asked).T
    seen = fade.bleached_and_yellowed(COLOURS, yellowing[:, None], bleaching[:, None])
    away = cielab.difference(cielab.lab(COLOURS), cielab.lab(seen)) / asked
    reached = fade.differences(COLOURS, np.ones(len(COLOURS))) >= asked
    assert (np.abs(away[reached] - 1.0) < 0.05).mean() > 0.99
    assert np.abs(away[reached] - 1.0).max() < 0.3
    assert (away[~reached] < 1.05).all()


@pytest.mark.parametrize("asked", [0.5, 1.0, 2.5])
def test_the_widest_lot_of_any_colour_differs_as_far_as_asked(asked):
    away = tint.widest(COLOURS, looked_up(asked, 0.0)[:, swatches.SPREAD]) / asked
    assert (np.abs(away - 1.0) < 0.05).mean() > 0.99
    assert np.abs(away - 1.0).max() < 0.5


@pytest.mark.parametrize(
    "colour", [(0.5, 0.01, 0.02), (0.8, 0.5, 0.01), (0.01, 0.05, 0.4), (0.8, 0.8, 0.78), (0.2,) * 3]
)
def test_a_print_in_the_colour_of_a_brick_ages_as_the_brick_does(colour):
    (found,) = looked_up(1.0, 13.0, np.array([colour]))
    alone = fade.ageing(colour, 13.0)
    wanted = [tint.spread(colour, 1.0), alone.yellowing, alone.bleaching, fade.twice(colour, 13.0) - 2.0]
    assert found == pytest.approx(wanted, rel=0.05, abs=0.02)


def test_what_stands_in_the_lattice_is_what_each_colour_alone_needs():
    some = COLOURS[:60]
    found = swatches.needs(some, 1.0, 6.0)
    ageings = [fade.ageing(colour, 6.0) for colour in some]
    wanted = [(tint.spread(c, 1.0), each.yellowing, each.bleaching) for c, each in zip(some, ageings, strict=True)]
    assert found[:, :3] == pytest.approx(np.array(wanted), rel=0.005, abs=1e-6)
    assert found[:, 3] == pytest.approx(np.array([fade.twice(c, 6.0) - 2.0 for c in some]), abs=0.02)


def test_nothing_asked_is_nothing_needed():
    assert not swatches.needs(COLOURS[:50], 0.0, 0.0).any()
    assert not swatches.needs(COLOURS[:50], 1.0, 0.0)[:, 1:].any()
    assert not swatches.needs(COLOURS[:50], 0.0, 6.0)[:, 0].any()
