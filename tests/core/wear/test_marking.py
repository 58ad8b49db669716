import numpy as np
import pytest
from scipy import spatial, stats

from addon.core.wear import marking
from tests.core.wear.by_hand import BY_HAND

KEYS = np.arange(20_000, dtype=np.uint64)


def test_a_turn_is_a_rotation_in_mm_and_reaches_all_angles_of_a_half_circle():
    """Outside check: the arc tangent of numpy; angles of 2 atan(t), t uniform, have that distribution by scipy."""
    mm = np.where(KEYS % 2 == 0, 1.0, 1000.0)
    turned = marking.turns(KEYS, mm)
    sine, cosine = turned[:, 0] / mm, turned[:, 1] / mm
    assert np.array_equal(turned[:, 2], mm)
    assert np.hypot(sine, cosine) == pytest.approx(1.0, abs=1e-15)
    angles = np.arctan2(sine, cosine)
    assert stats.kstest(angles, lambda angle: 0.5 + 0.5 * np.tan(0.5 * angle)).pvalue > 0.01
    assert np.degrees(angles).min() < -89.9
    assert np.degrees(angles).max() > 89.9


def test_offsets_fill_a_cube_evenly_in_all_three_directions():
    offsets = marking.offsets(KEYS)
    assert offsets.shape == (len(KEYS), 3)
    for column in offsets.T:
        assert stats.kstest(column, stats.uniform(0.0, 1000.0).cdf).pvalue > 0.01
    apart = np.corrcoef(np.column_stack([offsets, marking.turns(KEYS, np.ones(len(KEYS)))[:, 0]]).T) - np.eye(4)
    assert np.abs(apart).max() < 4.0 / np.sqrt(len(KEYS))


def test_a_spot_leads_from_a_mesh_to_the_build():
    """Outside check: rotations by scipy, some of them mirrored, and the pose written out."""
    random = np.random.default_rng(3)
    turn = (
        spatial.transform.Rotation.random(50, random_state=4).as_matrix()
        * np.where(np.arange(50) % 3, 1, -1)[:, None, None]
    )
    origin, middle, mm = random.normal(0, 200, (50, 3)), random.normal(0, 5, (50, 3)), random.uniform(0.1, 1000, 50)
    points = random.normal(0, 10, (50, 3))
    spots = marking.spots(turn, origin, middle, mm)
    there = origin + np.einsum("nij,nj->ni", turn, (points - middle) * mm[:, None])
    found = np.einsum("nij,nj->ni", turn, points * mm[:, None] + spots)
    assert found == pytest.approx(there, abs=1e-9)


@pytest.mark.parametrize("quarters", range(4))
def test_on_their_sides_bricks_of_all_quarter_turns_show_one_picture(quarters):
    """As Blender's manual tells a box projection: each side seen from outside is shown upright and not mirrored, its
    picture's x to the right. For one side of a build the other axes must then run alike in all bricks."""
    c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarters]
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    origin, point = np.array([[24.0, -8.0, 9.6]]), np.array([27.3, -12.0, 11.0])  # on the side that looks to -y
    spot = marking.spots(turn[None], origin, np.zeros((1, 3)), np.ones(1))[0]
    place = turn.T @ (point - origin[0]) + spot
    outward, right = turn.T @ (0.0, -1.0, 0.0), turn.T @ (1.0, 0.0, 0.0)
    assert abs(outward).max() == abs(right).max() == 1.0
    assert (place @ right, place[2]) == pytest.approx((27.3, 11.0))


def test_shares_are_spread_evenly():
    """Outside check: even distributions by scipy, from 0.4 to 1.6 of scratches and rub and from 0.35 of the fade."""
    shares, by_hand = marking.shares(KEYS), [each.share for each in BY_HAND.values() if each.share]
    for column, (low, high) in zip(shares.T, by_hand, strict=True):
        assert stats.kstest(column, stats.uniform(low, high - low).cdf).pvalue > 0.01
    assert np.abs(np.corrcoef(shares.T) - np.eye(len(by_hand))).max() < 4.0 / np.sqrt(len(KEYS))


def test_a_brick_keeps_its_marks_whatever_stands_beside_it():
    some = KEYS[[7, 3, 12_345]]
    assert np.array_equal(marking.offsets(some), marking.offsets(KEYS)[[7, 3, 12_345]])
