"""Rubbed edges as Cycles shows them: as wide as the rounding, paler, duller or polished, uneven."""

import bpy
import numpy as np
import pytest

from addon.core.wear.layers import Rub, Scratches, Smudges, Wear
from tests.blender.wear.renders import BLUE, ONLY_RUBBED, across_the_edge, look, render, shining


def test_rub_whitens_the_edges_as_wide_as_the_rounding_and_no_wider(tmp_path):
    shining(BLUE, ONLY_RUBBED)
    red = across_the_edge(tmp_path)[:, 0] - BLUE[0]
    assert red[:15] == pytest.approx(0.0, abs=1e-7)  # further than 1 mm from the edge
    assert (red[17:] > 0.0).all()
    assert red[-4:].mean() > 2.0 * red[18:22].mean() > 0.0
    assert red[-1] > 0.04


def test_no_rounding_no_rub(tmp_path):
    shining(BLUE, Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), rub=Rub(1.0)))
    assert across_the_edge(tmp_path)[:, 0] == pytest.approx(BLUE[0], abs=1e-7)


@pytest.mark.shared_out
@pytest.mark.parametrize(
    ("settings", "duller"),
    [
        ({"Roughness": 0.1}, True),
        ({"Roughness": 0.95}, False),
        ({"Roughness": 0.05, "Transmission Weight": 1.0}, True),
        ({"Roughness": 0.6, "Metallic": 1.0}, False),
    ],
    ids=["glossy plastic", "rubber", "glass", "metal"],
)
def test_rub_takes_the_gloss_off_and_polishes_what_was_matt(settings, duller, tmp_path):
    shining(BLUE, ONLY_RUBBED, "Roughness", **settings)
    seen = across_the_edge(tmp_path)[:, 0]
    assert seen[:15] == pytest.approx(settings["Roughness"], abs=1e-6)
    assert (seen[-1] > settings["Roughness"] + 0.03) if duller else (seen[-1] < settings["Roughness"] - 0.03)


def test_glass_is_frosted_and_not_whitened(tmp_path):
    shining(BLUE, ONLY_RUBBED, **{"Transmission Weight": 1.0})
    assert across_the_edge(tmp_path) == pytest.approx(np.broadcast_to(BLUE, (32, 3)), abs=1e-6)


def test_an_edge_is_rubbed_more_in_some_places_than_in_others(tmp_path):
    shining(BLUE, ONLY_RUBBED)
    look(20.0)
    bpy.context.scene.camera.location.x = 2.2
    along = render(tmp_path, 80, 64)[:, -2, 0] - BLUE[0]  # 20 mm, a quarter of one from the edge
    assert along.min() > 0.0
    assert np.percentile(along, 90) > 2.0 * np.percentile(along, 10)
