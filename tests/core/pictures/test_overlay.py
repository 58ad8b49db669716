"""The legend of an overlay, and the still picture of one."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from addon.core.pictures import coloured, ramp
from addon.core.pictures.overlay import KINDS, SIDES, Overlay
from addon.core.wear.layers import LAYERS
from tests.core.builds import block, table
from tests.core.sideways import FORWARD


def overlay(name, *values):
    return Overlay(KINDS[name], np.repeat(np.array(values, dtype=float)[:, None], 6, axis=1))


def test_there_is_one_for_each_layer_beside_reach_sky_sun_motion_and_interference():
    assert list(KINDS) == ["reach", "sky", "sun", *LAYERS, "motion", "interference"]


@pytest.mark.parametrize(
    ("name", "most", "top", "words"),
    [
        ("reach", 0.3, 1.0, ["0", "0.25", "0.5", "0.75", "1"]),
        ("motion", 0.379, 0.5, ["0", "0.1", "0.2", "0.3", "0.4", "0.5"]),
        ("motion", 0.5, 0.5, ["0", "0.1", "0.2", "0.3", "0.4", "0.5"]),
        ("motion", 0.0, 0.01, ["0", "0.0025", "0.005", "0.0075", "0.01"]),
        ("interference", 12.3, 20.0, ["0", "5", "10", "15", "20"]),
        ("fade", 2.3, 2.5, ["0", "0.5", "1", "1.5", "2", "2.5"]),
        ("dust", 0.04, 0.05, ["0", "0.01", "0.02", "0.03", "0.04", "0.05"]),
        ("rub", 1.12, 2.0, ["0", "0.5", "1", "1.5", "2"]),
    ],
)
def test_a_legend_ends_at_a_round_number_beyond_all_values(name, most, top, words):
    seen = overlay(name, 0.0, most)
    assert seen.top == pytest.approx(top)
    assert [text for _, text in seen.ticks] == words
    assert [share for share, _ in seen.ticks] == pytest.approx([float(text) / top for text in words])
    assert seen.shares.max() <= 1.0 + 1e-9


@pytest.mark.parametrize("most", np.geomspace(1e-3, 900.0, 97).tolist())
def test_no_value_lies_beyond_and_the_ticks_tell_where_they_stand(most):
    seen = overlay("motion", most)
    assert most <= seen.top * (1 + 1e-9) <= max(2.5 * most, 0.01) * (1 + 1e-9)
    assert [float(text) for _, text in seen.ticks] == pytest.approx([seen.top * share for share, _ in seen.ticks], 1e-2)


def test_the_numbers_of_one_brick_are_those_of_its_sides():
    values = np.array([[0.0, 0.1, 0.2, 0.3, 0.4, 1.0]])
    assert Overlay(KINDS["sky"], values).told(0, "b") == "b: −x 0  +x 0.1  −y 0.2  +y 0.3  −z 0.4  +z 1"
    assert overlay("motion", 0.123456).told(0, "b") == "b: 0.123"
    assert len(SIDES) == values.shape[1]


def test_nothing_has_a_legend_too():
    none = Overlay(KINDS["sky"], np.zeros((0, 6)), ("a note",))
    assert (none.top, none.lines) == (1.0, ("a note",))


def test_each_side_of_a_brick_that_lies_sideways_has_its_own_colour_in_the_picture():
    """A viewer of SVG is not asked: which sides look at an eye at (1, -1, 1) and (-1, 1, 1) is told by hand."""
    shares = np.array([[0.0, 0.2, 0.4, 0.6, 0.8, 1.0]])
    seen = Overlay(KINDS["sky"], shares)
    colours = dict(zip(SIDES, coloured.hexadecimal(ramp.colours(shares[0])), strict=True))
    fills = {}
    for name, turn in {"upright": np.eye(3), "studs to -y": FORWARD}.items():
        bricks = table([(block(2, 2, 3), (0.0, 0.0, 0.0))], [turn])
        drawn = ET.fromstring(coloured.drawn("a & b", bricks, seen))
        groups = [each for each in drawn.iter() if each.get("class") == "brick"]
        fills[name] = [{path.get("fill") for path in group if path.get("fill")} for group in groups]
        shown = [{side for side, c in colours.items() if c in fill} for fill in fills[name]]
        ways = np.stack([-turn, turn], axis=2).transpose(1, 2, 0).reshape(6, 3)
        for view, eye in enumerate(((1.0, -1.0, 1.0), (-1.0, 1.0, 1.0))):
            assert shown[view] == {side for side, way in zip(SIDES, ways, strict=True) if way @ np.array(eye) > 0}
    assert fills["upright"] != fills["studs to -y"]


def test_the_picture_has_a_legend_with_numbers():
    bricks = table([(block(2, 2, 3), (0.0, 0.0, 0.0)), (block(2, 2, 3), (16.0, 0.0, 0.0))])
    text = coloured.drawn("wall", bricks, overlay("motion", 0.0, 0.4))
    assert text == coloured.drawn("wall", bricks, overlay("motion", 0.0, 0.4))
    assert "Motion (mm)" in text
    assert "2 bricks: least 0, median 0.2, most 0.4" in text
    assert re.findall(r'text-anchor="middle">([^<]*)<', text) == ["0", "0.1", "0.2", "0.3", "0.4", "0.5"]
