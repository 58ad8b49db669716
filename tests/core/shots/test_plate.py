"""Which marks a plate could not hold, counted in the pixels of the picture that goes over it."""

import numpy as np
import pytest

from addon.core.shots.plate import Plate
from addon.core.shots.sharpness import Sharpness

# A Gaussian blur of 2 pixels leaves a tenth of the contrast at 0.34153 / 2 cycles a pixel, lines of 2.93 pixels.
SOFT = Sharpness(0.18739 / 2.0, 0.34153 / 2.0, 40)


def test_the_finest_line_is_half_a_wave_of_what_is_resolved():
    assert Plate("plate.tif", 1920, SOFT).finest_px(1920) == pytest.approx(
        np.pi * 2.0 / np.sqrt(2.0 * np.log(10.0)), rel=1e-4
    )


@pytest.mark.parametrize(("plate", "picture", "finest"), [(1920, 1920, 2.93), (3840, 1920, 1.46), (960, 1920, 5.86)])
def test_a_plate_of_another_size_is_told_in_the_picture_s_pixels(plate, picture, finest):
    lost = Plate("plate.tif", plate, SOFT).lost({"thin": finest - 0.1, "wide": finest + 0.1, "none": 0.0}, picture)
    assert lost == (f"thin of {finest - 0.1:.2f} px are finer than the plate holds ({finest:.2f} px)",)


def test_a_sharp_plate_holds_a_pixel_and_an_unknown_one_is_not_judged():
    sharp = Plate("plate.tif", 1920, Sharpness(0.6, 1.0, 40))
    assert sharp.finest_px(1920) == 1.0
    assert Plate("fog.tif", 1920, None).lost({"thin": 0.1}, 1920) == ()
