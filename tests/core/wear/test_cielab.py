"""Colours against the standards and the published pairs."""

from pathlib import Path

import numpy as np
import pytest

from addon.core.wear import cielab

# All 34 pairs of table 1 in Sharma, Wu, Dalal: The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations, Color Research and Application 30 (1), 2005.
PAIRS = np.loadtxt(Path(__file__).parent / "ciede2000_pairs.csv", delimiter=",", skiprows=1)


def test_the_published_pairs_come_out_to_the_last_published_digit():
    assert PAIRS.shape == (34, 7)
    assert np.abs(cielab.difference(PAIRS[:, :3], PAIRS[:, 3:6]) - PAIRS[:, 6]).max() <= 0.5e-4
    assert np.abs(cielab.difference(PAIRS[:, 3:6], PAIRS[:, :3]) - PAIRS[:, 6]).max() <= 0.5e-4


def test_one_pair_alone_gives_one_number():
    assert cielab.difference(PAIRS[0, :3], PAIRS[0, 3:6]) == pytest.approx(2.0425, abs=0.5e-4)
    assert cielab.difference(PAIRS[0, :3], PAIRS[0, :3]) == 0.0


@pytest.mark.parametrize(
    ("srgb", "linear"),  # IEC 61966-2-1, its two formulas evaluated by hand; 128 and 188 are 8-bit codes
    [(0, 0), (0.04045, 0.04045 / 12.92), (0.5, 0.21404114), (128 / 255, 0.2158605), (188 / 255, 0.50288646), (1, 1)],
)
def test_the_transfer_curve_is_that_of_the_standard(srgb, linear):
    assert cielab.decoded(srgb) == pytest.approx(linear, abs=1e-8)
    assert cielab.encoded(linear) == pytest.approx(srgb, abs=1e-7)


def test_the_transfer_curve_there_and_back():
    codes = np.linspace(0.0, 1.0, 1001)
    assert np.abs(cielab.encoded(cielab.decoded(codes)) - codes).max() < 1e-7
    assert cielab.encoded(0.18) == pytest.approx(0.46135613, abs=1e-8)


def test_lab_of_white_greys_and_back():
    greys = np.linspace(0.0, 1.0, 101)[:, None] * np.ones(3)
    lab = cielab.lab(greys)
    assert np.abs(lab[:, 1:]).max() < 1e-10
    assert lab[-1, 0] == pytest.approx(100.0)
    # CIE 15: L* of 18 % grey is 49.496, of 1 % is 8.991.
    assert cielab.lab((0.18,) * 3)[0] == pytest.approx(49.496, abs=1e-3)
    assert cielab.lab((0.005,) * 3)[0] == pytest.approx(903.2963 * 0.005, abs=1e-3)
    colours = np.random.default_rng(0).random((1000, 3))
    assert np.abs(cielab.rgb(cielab.lab(colours)) - colours).max() < 1e-12


def test_lab_of_the_primaries():
    """Lab of the sRGB primaries under D65, widely published; the digits of matrices in use move b* by 0.02."""
    wanted = [(53.24, 80.09, 67.20), (87.73, -86.18, 83.18), (32.30, 79.19, -107.86)]
    assert cielab.lab(np.eye(3)) == pytest.approx(np.array(wanted), abs=0.03)
