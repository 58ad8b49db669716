"""Boxes of bodies and studs on any side, of solids made with trimesh; sizes are common practice of the trade."""

import numpy as np
import pytest
import trimesh

from addon.core.parts.parts import measured


def box(low, high):
    return trimesh.creation.box(bounds=[low, high])


def stud(at, way):
    """A stud, its foot at `at`."""
    made = trimesh.creation.cylinder(2.4, 1.7, sections=24)
    made.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], way))
    return made.apply_translation(np.add(at, 0.85 * np.array(way)))


def part(*solids):
    mesh = trimesh.util.concatenate(solids)
    return measured(np.asarray(mesh.vertices, dtype=float), np.asarray(mesh.faces))


def held(found, points):
    """(P,) which points some box holds."""
    inside = (points[:, None] >= found.boxes[:, 0] - 1e-9) & (points[:, None] <= found.boxes[:, 1] + 1e-9)
    return inside.all(axis=2).any(axis=1)


ANGLE = [box((0, 0, 0), (16, 8, 3.2)), box((0, -1.6, -6.4), (16, 0, 3.2))]
CLIP = [
    box((0, 0, 0), (8, 8, 3.2)),
    box((0, 0, 3.2), (8, 2, 8)),
    box((0, 6, 3.2), (8, 8, 8)),
    box((0, 0, 8), (8, 8, 9.6)),
]
FRAME = [
    box((0, 0, 0), (16, 8, 2)),
    box((0, 0, 14), (16, 8, 16)),
    box((0, 0, 2), (2, 8, 14)),
    box((14, 0, 2), (16, 8, 14)),
]
PANEL = [box((0, 0, 0), (16, 8, 1.6)), box((0, 0, 1.6), (16, 1.6, 9.6))]
SOLIDS = {"angle": ANGLE, "clip": CLIP, "frame": FRAME, "panel": PANEL}


@pytest.mark.parametrize("solids", SOLIDS.values(), ids=SOLIDS)
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_boxes_hold_the_solid_and_nothing_else(solids, axis):
    rolled = [solid.copy() for solid in solids]
    for solid in rolled:
        solid.vertices = np.roll(solid.vertices, axis, axis=1)
    found, rng = part(*rolled), np.random.default_rng(2)
    low, high = trimesh.util.concatenate(rolled).bounds
    points = rng.uniform(low - 1, high + 1, (4000, 3))
    true = np.any([(points >= solid.bounds[0]).all(1) & (points <= solid.bounds[1]).all(1) for solid in rolled], axis=0)
    assert np.array_equal(held(found, points), true)


def test_a_part_that_is_read_a_thousand_times_too_large_is_one_box():
    """Column by column of a pitch it would be two million of them, and minutes."""
    large = part(*(solid.copy().apply_scale(1000.0) for solid in ANGLE))
    np.testing.assert_allclose(large.boxes, [trimesh.util.concatenate(ANGLE).bounds * 1000.0])


def test_the_hollow_under_a_brick_is_filled():
    walls = [box((0, 0, 0), (1.5, 16, 8.1)), box((14.5, 0, 0), (16, 16, 8.1)), box((1.5, 0, 0), (14.5, 1.5, 8.1)),
             box((1.5, 14.5, 0), (14.5, 16, 8.1))]  # fmt: skip
    top = box((0, 0, 8.1), (16, 16, 9.6))
    found = part(*walls, top, *(stud((4 + 8 * i, 4 + 8 * j, 9.6), (0, 0, 1)) for i in range(2) for j in range(2)))
    assert found.boxes == pytest.approx(np.array([[[0, 0, 0], [16, 16, 9.6]]]))
    assert found.full_grid
    assert not len(found.side_studs)


@pytest.mark.parametrize("way", [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, -1)])
def test_studs_on_any_side(way):
    middle = np.array([4, 4, 4.8])
    half = np.array([4, 4, 4.8])
    foot = middle + half * way
    found = part(box((0, 0, 0), (8, 8, 9.6)), stud((4, 4, 9.6), (0, 0, 1)), stud(foot, way))
    assert found.stud_direction == pytest.approx([0, 0, 1])
    assert found.studs == pytest.approx(np.array([[4, 4, 9.6]]))
    assert found.side_studs == pytest.approx(foot[None])
    assert found.side_ways == pytest.approx(np.array([way], dtype=float))
    assert np.stack([found.body_low, found.body_high]) == pytest.approx(np.array([[0, 0, 0], [8, 8, 9.6]]))


def test_a_brick_whose_only_studs_point_to_a_side_stands_on_them():
    found = part(box((0, 0, 0), (16, 8, 8)), *(stud((x, 8, 4), (0, 1, 0)) for x in (4, 12)))
    assert found.stud_direction == pytest.approx([0, 1, 0])
    assert found.upright == 1


@pytest.mark.parametrize(("radius", "height"), [(1.6, 1.7), (3.25, 1.7), (2.4, 4.0), (2.4, 0.4)])
def test_what_is_no_stud_belongs_to_the_body(radius, height):
    knob = trimesh.creation.cylinder(radius, height, sections=24)
    knob.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], [1, 0, 0]))
    knob.apply_translation((8 + height / 2, 4, 4.8))
    found = part(box((0, 0, 0), (8, 8, 9.6)), stud((4, 4, 9.6), (0, 0, 1)), knob)
    assert not len(found.side_studs)
    assert found.body_high[0] == pytest.approx(8 + height)
