import numpy as np
import pytest
from scipy import stats

from addon.core.wear import marking
from tests.core.wear.by_hand import BY_HAND

KEYS = np.arange(20_000, dtype=np.uint64)


def test_a_turn_is_a_rotation_in_mm_and_reaches_all_angles_of_a_half_circle():
    """Outside check: the arc tangent of numpy; angles of 2 atan(t), t uniform, have that distribution by scipy."""
    mm = np.where(KEYS % 2 == 0, 1.0, 1000.0)
    turned = marking.turns(KEYS, mm)
    sine, cosine = turned[:, 0] / mm, turned[:, 3] / mm
    assert np.array_equal(turned[:, :1].repeat(3, axis=1), turned[:, :3])
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


def test_shares_are_spread_evenly():
    """Outside check: even distributions by scipy, from 0.4 to 1.6 of scratches and rub and from 0.7 of the fade."""
    shares, by_hand = marking.shares(KEYS), [each.share for each in BY_HAND.values() if each.share]
    for column, (low, high) in zip(shares.T, by_hand, strict=True):
        assert stats.kstest(column, stats.uniform(low, high - low).cdf).pvalue > 0.01
    assert np.abs(np.corrcoef(shares.T) - np.eye(len(by_hand))).max() < 4.0 / np.sqrt(len(KEYS))


def test_a_brick_keeps_its_marks_whatever_stands_beside_it():
    some = KEYS[[7, 3, 12_345]]
    assert np.array_equal(marking.offsets(some), marking.offsets(KEYS)[[7, 3, 12_345]])
