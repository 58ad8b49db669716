"""How much of a layer a side has: one factor at a time, against the product written down by hand."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core.wear.amounts import Carried, Dialled, amounts
from addon.core.wear.layers import LAYERS, SHARES, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.core.wear.place import Place

WEAR = Wear(
    0.2, Scratches(0.5), Smudges(0.4), dust=Dust(0.3), rub=Rub(0.6), tint=Tint(2.0), fade=Fade(8.0), finish=Finish(0.9)
)
STRENGTH = dict(zip(LAYERS, (0.5, 0.4, 0.3, 0.6, 2.0, 8.0, 0.9), strict=True))
SIX = np.array([[0.0, 0.2, 0.4, 0.6, 0.8, 1.0]])
OPEN = Carried(
    reach=np.ones((1, 6)),
    sky=np.ones((1, 6)),
    light=np.ones((1, 6)),
    up=np.ones((1, 6)),
    shares=np.ones((1, len(SHARES))),
    lot=np.ones(1),
    use=np.ones(1),
    near=np.ones(1),
)
PLAIN = Dialled(1.0)


@pytest.mark.parametrize("layer", LAYERS)
def test_open_and_undialled_it_is_the_presets_own(layer):
    assert amounts(layer, WEAR, PLAIN, OPEN) == pytest.approx(np.full((1, 6), STRENGTH[layer]))
    assert not amounts(layer, Wear(), PLAIN, OPEN).any()
    assert not amounts(layer, WEAR, Dialled(0.0), OPEN).any(), "no dial, no wear"
    assert not amounts(layer, WEAR, Dialled(1.0, 0.0), OPEN).any()


@pytest.mark.parametrize("layer", LAYERS)
def test_each_layer_follows_what_brings_it_and_nothing_else(layer):
    follows = {"scratches": "reach", "smudges": "reach", "rub": "reach", "dust": "sky", "fade": "light"}
    for name in ("reach", "sky", "light"):
        found = amounts(layer, WEAR, PLAIN, replace(OPEN, **{name: SIX}))
        assert found == pytest.approx(STRENGTH[layer] * (SIX if follows.get(layer) == name else np.ones((1, 6))))


@pytest.mark.parametrize("layer", LAYERS)
def test_use_is_of_what_use_brings(layer):
    half = amounts(layer, WEAR, PLAIN, replace(OPEN, use=np.array([0.5]))).max() / STRENGTH[layer]
    assert half == pytest.approx({"tint": 1.0, "finish": 1.0}.get(layer, 0.5))
    near = amounts(layer, WEAR, PLAIN, replace(OPEN, near=np.array([3.0]))).max() / STRENGTH[layer]
    assert near == pytest.approx({"tint": 1.0, "finish": 1.0, "fade": 1.0}.get(layer, 3.0)), "hands fade no colour"


def test_dust_lies_on_what_looks_up_and_none_on_what_is_steep():
    found = amounts("dust", WEAR, PLAIN, replace(OPEN, up=np.array([[-1.0, 0.0, 0.35, 0.65, 0.95, 1.0]])))
    assert found[0] / 0.3 == pytest.approx([0.0, 0.0, 0.0, 0.5, 1.0, 1.0])  # smoothstep: half-way, half


@pytest.mark.parametrize(("layer", "row"), [(layer, n) for n, layer in enumerate(SHARES)])
def test_a_brick_has_its_own_share_and_no_more_than_a_full_amount_where_the_layer_says_so(layer, row):
    shares = np.ones((1, len(SHARES)))
    shares[0, row] = 0.5
    assert amounts(layer, WEAR, PLAIN, replace(OPEN, shares=shares)).max() == pytest.approx(0.5 * STRENGTH[layer])
    shares[0, row] = 3.0
    most = {"scratches": 1.0, "rub": 1.8, "fade": 24.0}[layer]
    assert amounts(layer, WEAR, PLAIN, replace(OPEN, shares=shares)).max() == pytest.approx(most)


def test_no_dial_takes_the_finish_past_what_the_preset_says():
    assert amounts("finish", WEAR, Dialled(2.0), OPEN).max() == pytest.approx(0.9)
    assert amounts("scratches", WEAR, Dialled(2.0, 1.5), OPEN).max() == pytest.approx(1.5)


def test_a_lot_that_is_the_colour_as_given_differs_by_nothing():
    assert not amounts("tint", WEAR, PLAIN, replace(OPEN, lot=np.zeros(1))).any()


def test_a_place_is_whole_in_its_middle_and_nothing_at_its_rim():
    away = np.array([0.0, 0.5, 1.0, 2.0])
    assert Place(3.0, is_smooth=False).times(away) == pytest.approx([3.0, 2.0, 1.0, 1.0])
    assert Place(3.0).times(away) == pytest.approx([3.0, 2.0, 1.0, 1.0])
    assert Place(0.0).times(np.array([0.75])) == pytest.approx([1.0 - (3 * 0.25**2 - 2 * 0.25**3)])
