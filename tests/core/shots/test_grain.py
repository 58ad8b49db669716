"""The grain of a plate, where it is known."""

import numpy as np
import pytest
from scipy.ndimage import convolve, gaussian_filter

from addon.core.shots import grain as grains
from addon.core.shots.grain import MID_GREY, Grain
from tests.core.shots.test_sharpness import photographed, plate


def grain(light: np.ndarray) -> Grain | None:
    """The grain of a grey picture, the same in all channels."""
    found = grains.grain(np.repeat(light[..., None], 3, axis=-1))
    if found is not None:
        assert len(set(found.deviation)) == len(set(found.light)) == 1
    return found


def grainy(strength: float, size_px: float, ground: np.ndarray) -> np.ndarray:
    """A picture with noise of a standard deviation, softened by a Gaussian."""
    noise = np.random.default_rng(1).standard_normal(ground.shape)
    noise = gaussian_filter(noise, size_px, mode="wrap") if size_px else noise
    return ground + strength * noise / noise.std()


def immerkaer(light: np.ndarray) -> float:
    """The standard deviation of white noise by J. Immerkær, Fast noise variance estimation, Computer Vision and Image
    Understanding 64 (1996), 300-302; formula recalled."""
    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]])
    rows, columns = light.shape
    inside = np.abs(convolve(light, mask))[1:-1, 1:-1].sum()
    return np.sqrt(np.pi / 2.0) * inside / (6.0 * (rows - 2) * (columns - 2))


@pytest.mark.parametrize("strength", [0.002, 0.01, 0.03])
def test_noise_of_single_pixels_is_told_as_strong_as_it_is(strength):
    found = grain(grainy(strength, 0.0, np.full((480, 640), MID_GREY)))
    assert found.deviation[0] == pytest.approx(strength, rel=0.03)
    assert found.light[0] == pytest.approx(MID_GREY, rel=0.02)
    assert found.size_px == 0.0


def test_it_agrees_with_another_estimate():
    picture = grainy(0.02, 0.0, photographed(3.0, "clean"))
    assert grain(picture).deviation[0] == pytest.approx(immerkaer(picture), rel=0.04)


@pytest.mark.parametrize("size_px", [0.6, 0.8, 1.2, 2.0])
def test_clumps_are_told_as_large_as_they_are(size_px):
    found = grain(grainy(0.02, size_px, plate(1.0)))
    assert found.size_px == pytest.approx(size_px, rel=0.12)
    assert found.deviation[0] == pytest.approx(0.02, rel=0.12)


def test_each_channel_has_its_own():
    ground = plate(1.0)[..., None] * (1.0, 0.8, 0.5)
    noise = np.random.default_rng(6).standard_normal(ground.shape) * (0.01, 0.008, 0.02)
    found = grains.grain(ground + noise)
    assert found.deviation == pytest.approx((0.01, 0.008, 0.02), rel=0.05)
    assert found.light[1] / found.light[0] == pytest.approx(0.8, rel=0.02)
    assert found.size_px == 0.0


def test_a_drawn_picture_has_none():
    found = grain(photographed(2.0, "clean"))
    assert found.deviation[0] < 1e-4
    assert found.size_px == 0.0


def test_a_slope_of_light_is_no_grain():
    slope = np.linspace(0.1, 0.6, 640)[None, :] + np.linspace(0.0, 0.2, 480)[:, None]
    assert grain(slope).deviation[0] < 1e-12
    assert grain(grainy(0.01, 0.0, slope)).deviation[0] == pytest.approx(0.01, rel=0.04)


def test_what_is_clipped_is_not_looked_at():
    picture = grainy(0.03, 0.0, plate(1.0))
    picture[:, :320] = picture.max()
    picture[:, 320:400] = picture.min()
    assert grain(picture).deviation[0] == pytest.approx(0.03, rel=0.05)


def test_grain_is_told_where_the_plate_is_nearest_to_mid_grey():
    ground = np.repeat(np.repeat(np.random.default_rng(2).uniform(0.02, 0.9, (10, 12)), 64, axis=0), 64, axis=1)
    picture = ground + 0.1 * np.sqrt(ground) * np.random.default_rng(3).standard_normal(ground.shape)  # as photons have
    found = grain(picture)
    assert abs(found.light[0] - MID_GREY) < 0.15
    assert found.deviation[0] == pytest.approx(0.1 * np.sqrt(found.light[0]), rel=0.1)


def test_detail_all_over_is_not_told_as_grain():
    patches = np.random.default_rng(4).choice([0.0, 0.1, 0.4, 0.8], (60, 80))
    noise = np.random.default_rng(5).standard_normal((480, 640))
    leaves = gaussian_filter(noise, 2.0) * np.repeat(np.repeat(patches, 8, axis=0), 8, axis=1)
    assert grain(0.3 + leaves) is None


@pytest.mark.parametrize("shape", [(8, 8), (40, 40)])
def test_a_picture_too_small_tells_none(shape):
    assert grain(np.full(shape, 0.2)) is None
