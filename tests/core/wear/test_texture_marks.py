"""Width, direction and kind of marks, on charts whose stripes are known and against scipy's own derivatives."""

import numpy as np
import pytest
from scipy import ndimage

from addon.core.wear import marks, standin
from addon.core.wear.findings import looks_like
from addon.core.wear.layers import PICTURES
from addon.core.wear.texture import levels
from bench.looks import DRAWN

SIDE = 512


def stripes(period_px, width_px, angle_deg, side=SIDE):
    """A chart of stripes that run at an angle, anticlockwise from the lower edge; each pixel the mean of 64 points."""
    fine = 8
    up, right = (np.mgrid[0 : side * fine, 0 : side * fine] + 0.5) / fine - 0.5 * side
    angle = np.radians(angle_deg)
    across = (up * np.cos(angle) - right * np.sin(angle) + 0.5 * width_px) % period_px
    return (across < width_px).astype(np.float32).reshape(side, fine, side, fine).mean(axis=(1, 3))


@pytest.mark.shared_out
@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 45.0, 100.0, 160.0])
@pytest.mark.parametrize(("period_px", "width_px"), [(32.0, 8.0), (40.0, 20.0), (24.0, 4.0)])
def test_stripes_measure_their_width_and_direction(period_px, width_px, angle_deg):
    chart = stripes(period_px, width_px, angle_deg)
    assert marks.width_px(chart) == pytest.approx(width_px, rel=0.02)
    found = marks.run(chart)
    off = (found.direction_deg - angle_deg + 90.0) % 180.0 - 90.0
    assert abs(off) < 0.02 * 45.0
    assert found.alignment > 0.99


@pytest.mark.shared_out
@pytest.mark.parametrize("width_px", [1.5, 2.0, 3.0])
def test_hairlines_thinner_than_the_smoothing_measure_to_a_pixel(width_px):
    for angle_deg in (0.0, 30.0, 45.0):
        assert marks.width_px(stripes(20.0, width_px, angle_deg)) == pytest.approx(width_px, abs=1.0)


def test_width_knows_no_contrast_above_the_strong_and_no_haze_below():
    chart = stripes(32.0, 8.0, 17.0)
    hazy = np.maximum(chart, 0.25 * np.random.default_rng(0).random(chart.shape))
    assert marks.width_px(hazy) == pytest.approx(marks.width_px(chart), rel=0.02)


def test_marks_that_run_all_ways_have_no_direction():
    up, right = np.mgrid[0:SIDE, 0:SIDE] - 0.5 * SIDE
    rings = 0.5 + 0.5 * np.cos(np.hypot(up, right) / 3.0)
    assert marks.run(rings).alignment < 0.02


def test_direction_is_that_of_scipy_s_structure_tensor():
    """Oracle: scipy.ndimage.gaussian_gradient_magnitude's parts, Gaussian derivatives of another width."""
    chart = 1.0 - standin.scratches(5, 1024)
    right, up = (ndimage.gaussian_filter(chart, 1.0, order=order) for order in ((0, 1), (1, 0)))
    xx, xy, yy = (right**2).sum(), (right * up).sum(), (up**2).sum()
    weak = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]))[1][:, 0]  # eigenvectors by rising eigenvalue
    direction = np.degrees(np.arctan2(weak[1], weak[0])) % 180.0
    off = (marks.run(chart).direction_deg - direction + 90.0) % 180.0 - 90.0
    assert abs(off) < 1.0


def test_power_counted_by_waves_is_the_variance():
    """Parseval: the sum of the power spectrum over its size is the sum of squares; split at 12 waves by a filter."""
    noise = np.random.default_rng(1).random((256, 256)).astype(np.float64)
    noise -= noise.mean()
    spectrum = np.fft.fft2(noise)
    waves = np.hypot(*np.meshgrid(np.fft.fftfreq(256), np.fft.fftfreq(256))) * 256
    soft = np.fft.ifft2(np.where(waves < 12.0, spectrum, 0.0)).real
    assert marks.softness(noise) == pytest.approx((soft**2).sum() / (noise**2).sum(), rel=1e-6)


@pytest.mark.shared_out
@pytest.mark.parametrize("seed", [0, 7])
@pytest.mark.parametrize("kind", PICTURES)
def test_stand_ins_look_like_what_they_are(kind, seed):
    grey = PICTURES[kind].stand_in(seed)
    assert looks_like(levels(grey).marks(grey), kind) == kind


@pytest.mark.parametrize(("label", "way"), [(label, way) for label, ways in DRAWN.items() for way in ways])
def test_what_others_draw_looks_like_what_it_is(label, way):
    """OpenCV, Pillow and scipy draw; bench/looks.py counts many more, photographs among them."""
    right = 0
    for n in range(3):
        grey = np.clip(way(np.random.default_rng((11, n)), SIDE), 0.0, 1.0).astype(np.float32)
        right += looks_like(levels(grey).marks(grey)) == label
    assert right >= 2


def test_noise_weave_and_nothing_look_like_none_of_them():
    noise = np.random.default_rng(2).random((SIDE, SIDE))
    up, right = np.mgrid[0:SIDE, 0:SIDE]
    weave = 0.5 + 0.25 * np.sin(up * 1.3) + 0.25 * np.sin(right * 1.3)
    for picture in (noise, weave, np.zeros((SIDE, SIDE))):
        assert looks_like(picture) == marks.OTHER
    assert marks.width_px(np.zeros((8, 8))) == 0.0
    assert marks.run(np.zeros((8, 8))) == marks.Run(0.0, 0.0)
