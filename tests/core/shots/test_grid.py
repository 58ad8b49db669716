"""Samples of a picture, counted by hand, and how far they leave any place of it."""

import numpy as np
import pytest
from scipy.spatial import KDTree

from addon.core.parts.hull import BOX
from addon.core.shots.grid import Grid, spanned
from addon.core.shots.lens import Lens

FACING = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0))  # the build is camera space


def test_a_small_rectangle_has_each_of_its_pixels():
    grid = Grid.over((99.7, 10.0, 104.0, 12.2), 100, 1.0)
    assert grid.is_every_pixel
    assert grid.places[:, 0].tolist() == [[99.5, 10.5], [99.5, 11.5], [99.5, 12.5]]
    assert grid.places[0, :, 0].tolist() == [99.5, 100.5, 101.5, 102.5, 103.5]
    assert Grid.over((200.0, 0.0, 100.0, 50.0), 100, 1.0).samples == 0  # beside the frame


@pytest.mark.parametrize("aspect", [0.5, 1.0, 2.0])
@pytest.mark.parametrize(
    "where", [(0.0, 0.0, 1920.0, 1080.0), (300.0, 20.0, 700.0, 980.0), (0.0, 300.0, 1900.0, 520.0)]
)
def test_a_large_one_has_a_sample_near_every_place(where, aspect):
    """SciPy's tree: none is much farther from a sample than half the diagonal of a square cell."""
    grid = Grid.over(where, 2000, aspect)
    assert not grid.is_every_pixel
    assert 1850 < grid.samples <= 2000
    low, size = np.array(where[:2]), np.array([where[2] - where[0], where[3] - where[1]])
    places = grid.places.reshape(-1, 2)
    assert ((places >= low) & (places < low + size)).all()
    square = np.array([1.0, aspect])
    away, _ = KDTree(places * square).query((low + size * np.random.default_rng(1).random((5000, 2))) * square)
    assert away.max() < 1.5 * np.sqrt(0.5 * size.prod() * aspect / grid.samples)


def test_no_stripe_of_a_quarter_of_a_cell_falls_between_the_samples():
    """Upright stripes, where a plain lattice of as many samples has none in three of four; level ones down to a row."""
    grid = Grid.over((0.0, 0.0, 1000.0, 1000.0), 2500, 1.0)  # a cell is 20 pixels wide
    x, y = grid.places.reshape(-1, 2).T
    assert np.diff(np.sort(x)).max() < 5.0
    assert np.diff(np.sort(y)).max() < 20.0 / np.sqrt(2.0) + 1.0


def boxes(*placed: tuple[float, float, float, float]) -> np.ndarray:
    """Flat boxes by their left, lower, right and upper side in mm, at 500 mm."""
    sides = np.array(placed)
    middle, half = 0.5 * (sides[:, :2] + sides[:, 2:]), 0.5 * (sides[:, 2:] - sides[:, :2])
    flat = middle + half * BOX.corners[:, None, :2]
    return np.concatenate([flat, np.full((*flat.shape[:2], 1), 500.0)], axis=-1)


def test_a_build_is_looked_at_where_it_is_in_the_frame():
    """By hand: 16 / 3 px a mm at 500 mm, from the middle of 1920 x 1080."""
    one = boxes((-30.0, -15.0, 60.0, 15.0))
    assert spanned(Lens(FACING, 1920, 1080), one) == (pytest.approx((800.0, 460.0, 1280.0, 620.0)), 1.0)
    right = Lens(FACING, 1920, 1080, border=(0.5, 0.0, 1.0, 1.0))
    assert spanned(right, one)[0] == pytest.approx((960.0, 460.0, 1280.0, 620.0))
    behind = np.append(one, one * (1.0, 1.0, -1.0), axis=1)
    assert spanned(right, behind) == ((960.0, 0.0, 1920.0, 1080.0), 1.0)
    left, _, over, _ = spanned(right, one - (400.0, 0.0, 0.0))[0]
    assert over < left


def test_what_boxes_take_up_is_told_one_for_all():
    """By hand: two squares at the ends of a diagonal, a third of its length each, told in 64 cells a side."""
    pair = boxes((0.0, 0.0, 10.0, 10.0), (20.0, 20.0, 30.0, 30.0), (21.0, 21.0, 29.0, 29.0))
    _, share = spanned(Lens(FACING, 1920, 1080), pair)
    assert 2.0 / 9.0 <= share <= 2.0 * (22.0 / 64.0) ** 2
