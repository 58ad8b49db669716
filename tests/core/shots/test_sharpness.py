"""The sharpness of a plate, on edges whose blur is known."""

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr

from addon.core.shots import sharpness
from addon.core.shots.sharpness import edge_mtf, frequency

LEAST = 0.05  # difference between the sides of an edge


def edge(sigma, angle_deg, side=32, sides=(0.2, 0.8)):
    """A straight edge through the middle, its Gaussian edge spread sampled at the pixels."""
    up, across = np.mgrid[0:side, 0:side] - 0.5 * side
    angle = np.radians(angle_deg)
    away = (across - 0.3) * np.cos(angle) - up * np.sin(angle)
    return sides[0] + (sides[1] - sides[0]) * ndtr(away / sigma)


def plate(sigma, grain=0.0, width=960, height=540):
    """Forty painted rectangles, sixteen points a pixel, blurred as a lens would."""
    fine, random = 4, np.random.default_rng(3)
    canvas = Image.new("F", (width * fine, height * fine), 0.3)
    for _ in range(40):
        half, angle = random.uniform(80, 400, 2), random.uniform(0.0, np.pi)
        turn = np.array(((np.cos(angle), np.sin(angle)), (-np.sin(angle), np.cos(angle))))
        corners = (np.array(((-1, -1), (1, -1), (1, 1), (-1, 1))) * half) @ turn + random.random(2) * canvas.size
        ImageDraw.Draw(canvas).polygon([tuple(corner) for corner in corners], fill=random.uniform(0.05, 0.9))
    light = gaussian_filter(np.asarray(canvas, np.float64), sigma * fine)[fine // 2 :: fine, fine // 2 :: fine]
    return light + grain * random.standard_normal(light.shape)


@pytest.mark.parametrize("angle_deg", [5.0, 12.0, 30.0, -7.0, 83.0, 100.0, 172.0])
@pytest.mark.parametrize("sigma", [0.5, 0.7, 1.0, 2.0, 3.0])
def test_an_edge_of_known_blur_has_its_transfer_function(sigma, angle_deg):
    """ISO 12233's slanted edge. A Gaussian's transform is a Gaussian: exp(-2 (pi sigma f)^2), a half at 0.18739 / sigma
    and a tenth at 0.34153 / sigma."""
    curve = edge_mtf(edge(sigma, angle_deg), LEAST)
    assert frequency(curve, 0.5) == pytest.approx(np.sqrt(np.log(2.0) / 2.0) / (np.pi * sigma), rel=0.02)
    if sigma >= 0.7:  # its tenth lies within the grid's Nyquist frequency
        assert frequency(curve, 0.1) == pytest.approx(np.sqrt(np.log(10.0) / 2.0) / (np.pi * sigma), rel=0.03)
        cycles, contrast = curve.T
        resolved = cycles < 0.34 / sigma
        expected = np.exp(-2.0 * (np.pi * sigma * cycles[resolved]) ** 2)
        np.testing.assert_allclose(contrast[resolved], expected, atol=0.02)


def test_a_pixel_that_gathers_all_its_light_has_the_transform_of_a_square():
    """An ideal sensor without a lens' blur: the transform of the unit box is sinc, which is a half at 0.6034."""
    fine = edge(1e-6, 6.0, 32 * 16)
    curve = edge_mtf(fine.reshape(32, 16, 32, 16).mean(axis=(1, 3)), LEAST)
    assert frequency(curve, 0.5) == pytest.approx(0.6034, rel=0.02)


@pytest.mark.parametrize("light", [lambda tile: 3.0 * tile, lambda tile: 1.0 - tile, lambda tile: tile[:, ::-1]])
def test_exposure_and_sides_do_not_matter(light):
    usual = edge_mtf(edge(1.0, 8.0), LEAST)
    assert frequency(edge_mtf(light(edge(1.0, 8.0)), LEAST), 0.5) == pytest.approx(frequency(usual, 0.5), rel=0.01)


def test_what_is_no_single_slanted_edge_is_not_measured():
    up, across = np.mgrid[0:32, 0:32]
    bent = ndtr((across - 16.0 - 0.02 * (up - 16.0) ** 2) / 0.7)
    stripe = edge(0.7, 8.0) - np.roll(edge(0.7, 8.0), 6, axis=1)
    for tile in (
        np.full((32, 32), 0.5),
        edge(0.7, 0.0),
        edge(0.7, 45.0),
        bent,
        stripe,
        edge(0.7, 8.0, sides=(0.5, 0.52)),
    ):
        assert edge_mtf(tile, LEAST) is None


@pytest.mark.shared_out
@pytest.mark.parametrize(("grain", "off"), [(0.0, 0.02), (0.01, 0.05)])
@pytest.mark.parametrize("sigma", [0.5, 1.0, 2.5])
def test_a_plate_of_known_blur_measures_it_through_its_grain(sigma, grain, off):
    found = sharpness.sharpness(plate(sigma, grain))
    assert found.blur_px == pytest.approx(sigma, rel=off)
    assert found.finest_px == pytest.approx(max(1.0, 0.5 * sigma / 0.34153), rel=0.02 + 6.0 * grain)
    assert found.edges >= 20


def photographed(sigma: float, how: str) -> np.ndarray:
    """Polygons and discs drawn and blurred by OpenCV, with noise, film grain or a JPEG's compression; linear light."""
    fine, random = 3, np.random.default_rng(5)
    canvas = np.full((720 * fine, 1280 * fine), 0.3, np.float32)
    for number in range(40):
        middle, half, turn = random.random(2) * canvas.shape[::-1], random.uniform(120, 480, 2), random.uniform(0, 180)
        shade = random.uniform(0.05, 0.9)
        if number % 4:
            corners = cv2.boxPoints((tuple(middle), tuple(2.0 * half), turn))
            cv2.fillPoly(canvas, [corners.astype(np.int32)], shade)
        else:
            cv2.circle(canvas, tuple(middle.astype(int).tolist()), int(half[0]), shade, -1)
    light = cv2.GaussianBlur(canvas, (0, 0), sigma * fine)[fine // 2 :: fine, fine // 2 :: fine].astype(float)
    if how == "noise":
        return light + 0.03 * random.standard_normal(light.shape)
    coded = encoded(light)
    if how == "grain":  # clumps of 0.8 px, strongest in the middle tones
        clumps = cv2.GaussianBlur(random.standard_normal(light.shape), (0, 0), 0.8)
        coded = np.clip(coded + 0.03 * clumps / clumps.std() * 2.0 * np.sqrt(coded * (1.0 - coded)), 0.0, 1.0)
    if how == "jpeg":
        _, packed = cv2.imencode(".jpg", np.round(255.0 * coded).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 40])
        coded = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE) / 255.0
    return decoded(coded)


def encoded(light: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1, from linear light to sRGB."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)


def decoded(coded: np.ndarray) -> np.ndarray:
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


@pytest.mark.shared_out
@pytest.mark.parametrize(
    ("sigma", "how"),
    [(0.5, "noise"), (0.5, "grain"), (1.0, "jpeg"), (2.0, "noise"), (3.0, "grain"), (4.0, "jpeg"), (6.0, "noise"),
     (10.0, "noise"), (10.0, "jpeg"), (10.0, "grain")],
)  # fmt: skip
def test_a_photograph_tells_its_blur_through_noise_grain_and_compression(sigma, how):
    """Made and blurred by OpenCV: 3 % of noise, grain of 3 %, JPEG of quality 40."""
    assert sharpness.sharpness(photographed(sigma, how)).blur_px == pytest.approx(sigma, rel=0.05)


def test_a_plate_beyond_the_reach_says_so():
    """25 px, and half a pixel beneath a compression that takes as much."""
    clean = plate(0.5)
    assert sharpness.sharpness(gaussian_filter(clean[:360, :640], 25.0)) is None
    assert sharpness.sharpness(clean).doubt == ""
    assert "may be sharper than told" in sharpness.sharpness(photographed(0.5, "jpeg")).doubt


def test_the_part_in_focus_counts():
    sharp, soft = plate(0.7), plate(3.0)
    half = sharp.shape[1] // 2
    mixed = np.concatenate((sharp[:, :half], soft[:, half:]), axis=1)
    assert sharpness.sharpness(mixed).blur_px == pytest.approx(0.7, rel=0.1)


def test_without_clean_edges_nothing_is_claimed():
    random = np.random.default_rng(1)
    for light in (
        np.zeros((200, 200)),
        np.ones((8, 8)),
        random.random((200, 200)),
        gaussian_filter(random.random((200, 200)), 3),
    ):
        assert sharpness.sharpness(light) is None
