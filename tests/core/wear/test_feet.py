"""Which bricks have their studs where shaders look for them: at whole pitches of the place that marks lie by."""

import numpy as np
import pytest

from addon.core.wear import marking
from addon.core.wear.feet import feet
from tests.core import sideways
from tests.core.builds import block, table

QUARTER = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
ON_ITS_SIDE = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
AWAY = np.array([13.7, -1002.35, 5.1])  # a build need not stand at the origin


def beside(bricks, found):
    """How far (mm) the studs of each brick stand beside whole pitches of its spot, by numpy's remainder."""
    spots = marking.spots(bricks.turn, bricks.origin - found.shift, np.zeros((len(bricks), 3)), np.ones(len(bricks)))
    studs = [bricks.parts[part].studs + spot for part, spot in zip(bricks.part, spots, strict=True)]
    return [np.abs(np.remainder(each[:, :2] + 4.0, 8.0) - 4.0).max(initial=0.0) for each in studs]


def build(turns, at, meshes):
    return table([(mesh, place + AWAY) for mesh, place in zip(meshes, np.array(at, dtype=float), strict=True)], turns)


def test_studs_of_bricks_on_one_lattice_are_at_whole_pitches_whichever_way_they_are_turned():
    long, square, turns = block(4, 2, 1), block(2, 2, 3), [np.eye(3), QUARTER, QUARTER @ QUARTER, QUARTER.T]
    bricks = build(turns, [(0, 0, 0), (64, 0, 0), (64, 64, 3.2), (0, 64, 9.6)], [long, long, square, square])
    found = feet(bricks, bricks.turn, bricks.origin)
    assert found.on.all()
    assert found.shift[2] == 0.0
    assert max(beside(bricks, found)) < 1e-6


def test_bricks_off_the_lattice_without_studs_or_on_their_side_are_left_out():
    plate, tile = block(2, 2, 1), block(2, 2, 1, studded=False)
    at = [(0, 0, 0), (16, 0, 0), (32, 0, 0), (52, 0, 0), (0, 40, 0), (40, 40, 0)]
    turns = [np.eye(3)] * 5 + [ON_ITS_SIDE]
    bricks = build(turns, at, [plate, plate, plate, plate, tile, plate])
    found = feet(bricks, bricks.turn, bricks.origin)
    assert found.on.tolist() == [True, True, True, False, False, False]
    assert beside(bricks, found)[3] == pytest.approx(4.0)  # half a pitch away


def test_of_a_workshop_those_that_are_found_have_their_studs_there_and_most_plain_ones_are_found():
    bricks = sideways.yard(sideways.NOMINAL)
    found = feet(bricks, bricks.turn, bricks.origin)
    off = np.array(beside(bricks, found))
    assert off[found.on].max() < 0.1
    assert found.on.sum() > 0.5 * bricks.full_grid.sum()
    assert not found.on[~bricks.full_grid].any()


@pytest.mark.parametrize("spread_mm", [0.0, 0.002])
def test_a_build_without_some_of_its_bricks_has_the_same_place(spread_mm):
    """Else all marks would move by micrometres once the builder's next version lacks one."""
    draw = np.random.default_rng(2)
    at = [(8.0 * x, 8.0 * y, 3.2 * z) + spread_mm * draw.normal(size=3) for x, y, z in draw.integers(0, 40, (200, 3))]
    bricks = build([np.eye(3)] * len(at), at, [block(2, 2, 1)] * len(at))
    some = [bricks.only(np.flatnonzero(draw.random(len(bricks)) < 0.8)) for _ in range(20)]
    found = {tuple(feet(each, each.turn, each.origin).shift) for each in (bricks, *some)}
    assert found == {(1.7, 1.65, 0.0)}


def test_no_bricks_are_no_mistake():
    bricks = table([(block(1, 1, 1, studded=False), (0.0, 0.0, 0.0))])
    assert not feet(bricks, bricks.turn, bricks.origin).on.any()
