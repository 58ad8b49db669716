"""The lens against OpenCV's pinhole camera and cases worked by hand."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core.shots.lens import AUTO, HORIZONTAL, VERTICAL, Lens

FACING = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0))  # the build is camera space


def lens(width=1920, height=1080, **more) -> Lens:
    return Lens(FACING, width, height, **more)


@pytest.mark.parametrize(
    ("focal", "sensor", "width", "depth", "px_per_mm"),
    [
        (50.0, 36.0, 1920, 500.0, 16 / 3),
        (50.0, 36.0, 3840, 500.0, 32 / 3),
        (35.0, 24.89, 2048, 1000.0, 35.0 * 2048 / 24.89 / 1000.0),
        (85.0, 36.0, 3840, 1500.0, 6.0444444444),
        (100.0, 36.0, 3840, 400.0, 26.6666666667),
    ],
)
def test_a_millimetre_measures_what_the_pinhole_says(focal, sensor, width, depth, px_per_mm):
    """By hand: pixels a mm = f / sensor * width / depth."""
    shown = lens(width, focal_mm=focal, sensor_width_mm=sensor)
    assert shown.px_per_mm(np.array([depth]))[0] == pytest.approx(px_per_mm, rel=1e-9)
    (a, b), _ = shown.project(np.array([[0.0, 0.0, depth], [1.0, 0.0, depth]]))
    assert (b - a).tolist() == pytest.approx([px_per_mm, 0.0], rel=1e-9)


@pytest.mark.parametrize(
    ("fit", "width", "height", "aspect", "way"),
    [
        (AUTO, 1920, 1080, 1.0, (0.426667, 0.426667)),
        (AUTO, 1080, 1920, 1.0, (0.426667, 0.426667)),
        (HORIZONTAL, 1080, 1920, 1.0, (0.24, 0.24)),
        (VERTICAL, 1920, 1080, 1.0, (0.36, 0.36)),
        (VERTICAL, 1080, 1920, 1.0, (0.64, 0.64)),
        (AUTO, 1920, 1080, 0.5, (0.426667, 0.853333)),  # pixels twice as wide as high
        (AUTO, 1920, 1080, 2.0, (0.48, 0.24)),
    ],
)
def test_the_sensor_fits_as_blender_fits_it(fit, width, height, aspect, way):
    """0.08 mm at 500 mm through 50 mm on 36 x 24, measured once in Blender 4.5, 5.0 and 5.2 alike."""
    shown = lens(width, height, sensor_fit=fit, pixel_aspect=aspect)
    (a, b), _ = shown.project(np.array([[0.0, 0.0, 500.0], [0.08, 0.08, 500.0]]))
    assert (b - a).tolist() == pytest.approx(way, abs=1e-6)


def test_a_shift_of_a_tenth_moves_the_middle_by_a_tenth_of_the_width():
    shown = lens(shift_x=0.1)
    assert shown.project(np.array([0.0, 0.0, 500.0]))[0].tolist() == pytest.approx([768.0, 540.0])


def test_an_orthographic_view_knows_no_depth():
    shown = lens(ortho_mm=360.0)
    px, _ = shown.project(np.array([[0.0, 0.0, 1.0], [0.08, 0.0, 1.0], [0.08, 0.0, 999.0]]))
    assert (px[1] - px[0]).tolist() == pytest.approx([0.08 * 1920 / 360.0, 0.0])
    assert (px[1] == px[2]).all()


@given(
    focal=st.floats(10.0, 200.0),
    turn=st.tuples(*[st.floats(-0.5, 0.5)] * 3),
    shift=st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4)),
    aspect=st.floats(0.5, 2.0),
    size=st.sampled_from([(1920, 1080), (1080, 1920), (4096, 1716), (640, 640)]),
)
def test_opencv_projects_to_the_same_pixels(focal, turn, shift, aspect, size):
    """OpenCV's projectPoints, whose image counts rows downwards and whose matrix is given in pixels."""
    points = np.random.default_rng(7).uniform(-40.0, 40.0, (50, 3))
    rotation, away = cv2.Rodrigues(np.array(turn))[0], np.array([3.0, -5.0, 400.0])
    view = tuple(tuple(row) for row in np.hstack([rotation, away[:, None]]).tolist())
    width, height = size
    shown = Lens(view, width, height, focal, shift_x=shift[0], shift_y=shift[1], pixel_aspect=aspect)
    spanned = max(width, aspect * height)
    strength = focal / 36.0 * spanned
    matrix = np.array(
        [
            [strength, 0.0, 0.5 * width - shift[0] * spanned],
            [0.0, strength / aspect, 0.5 * height - shift[1] * spanned / aspect],
            [0.0, 0.0, 1.0],
        ]
    )
    theirs, _ = cv2.projectPoints(points, np.array(turn), away, matrix, None)
    assert np.abs(shown.project(points)[0] - theirs[:, 0]).max() < 1e-3


def test_the_border_crops_what_is_in_frame_and_moves_nothing():
    whole, cropped = lens(), lens(border=(0.5, 0.0, 1.0, 1.0), near_mm=10.0, far_mm=600.0)
    points = np.array([[-10.0, 0.0, 500.0], [10.0, 0.0, 500.0], [10.0, 0.0, 700.0], [0.1, 0.0, 5.0], [0.0, 0.0, -5.0]])
    px, depth = whole.project(points)
    assert np.array_equal(px, cropped.project(points)[0], equal_nan=True)
    assert cropped.inside(px, depth).tolist() == [False, True, False, False, False]
    assert np.isnan(px[-1]).all()


def test_blur_is_what_the_thin_lens_gives():
    """By hand: an iris of 20 mm, focus at 500 mm, a point 50 mm behind that: the cone is 2 mm wide there."""
    shown = lens(focus_mm=500.0, aperture_mm=20.0)
    blur = shown.blur_px(np.array([500.0, 550.0, 450.0]))
    assert blur.tolist() == pytest.approx([0.0, 2.0 * 50.0 / 36.0 * 1920.0 / 550.0, 2.0 * 50.0 / 36.0 * 1920.0 / 450.0])
    parallel = lens(focus_mm=500.0, aperture_mm=20.0, ortho_mm=300.0)
    assert parallel.blur_px(np.array([550.0])).tolist() == pytest.approx([2.0 * 1920.0 / 300.0])
    assert lens().blur_px(np.array([502.0])) is None


@pytest.mark.parametrize("more", [{}, {"ortho_mm": 300.0}, {"shift_y": 0.3, "pixel_aspect": 1.5, "near_mm": 12.0}])
def test_a_place_is_what_its_pixel_shows_at_its_depth(more):
    shown = Lens(((0.0, 1.0, 0.0, 4.0), (0.0, 0.0, 1.0, -2.0), (1.0, 0.0, 0.0, 90.0)), 1920, 1080, **more)
    pixels, depth = np.random.default_rng(3).uniform(0.0, 1920.0, (144, 2)), np.linspace(0.5, 500.0, 144)
    px, found = shown.project(shown.place(pixels, depth))
    assert np.abs(px - pixels).max() < 1e-6
    assert found == pytest.approx(depth)


@pytest.mark.parametrize("more", [{}, {"ortho_mm": 300.0}])
def test_nearness_is_linear_in_the_picture(more):
    """The middle of a way, in the picture, is as near as the mean of its ends."""
    shown = lens(**more)
    ends = np.array([[-30.0, 10.0, 200.0], [50.0, -20.0, 700.0]])
    x, y, near, scale = shown.homogeneous(ends)
    assert np.stack([x / scale, y / scale], axis=-1) == pytest.approx(shown.project(ends)[0])
    assert shown.nearness(near / scale) == pytest.approx(ends[:, 2])
    middle = shown.place(np.array([x / scale, y / scale]).mean(axis=1), shown.nearness((near / scale).mean()))
    assert np.linalg.norm(middle - ends, axis=1).sum() == pytest.approx(np.linalg.norm(ends[1] - ends[0]))
