"""The ramp against OpenCV's own table of the same colours, and as eyes see it that lack a kind of cone."""

import cv2
import numpy as np
import pytest

from addon.core.pictures import ramp
from addon.core.wear import cielab

STEPS = 65
# Machado, Oliveira, Fernandes: A physiologically-based model for simulation of color vision deficiency, IEEE
# Transactions on Visualization and Computer Graphics 15(6), 2009: severity 1, on linear RGB.
LACKING = {
    "none": np.eye(3),
    "red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


def test_it_is_cividis():
    table = cv2.applyColorMap(np.arange(256, dtype=np.uint8)[:, None], cv2.COLORMAP_CIVIDIS)[:, 0, ::-1]
    assert np.abs(255.0 * ramp.colours(np.arange(256) / 255.0) - table).max() < 5.0


@pytest.mark.parametrize("lacking", LACKING)
def test_more_is_lighter_and_equal_steps_look_equal_to_any_eye(lacking):
    rgb = cielab.decoded(ramp.colours(np.linspace(0.0, 1.0, STEPS))) @ np.array(LACKING[lacking]).T
    lab = cielab.lab(np.clip(rgb, 0.0, 1.0))
    assert (np.diff(lab[:, 0]) > 0.0).all()
    eighths = lab[:: (STEPS - 1) // 8]
    step = cielab.difference(eighths[:-1], eighths[1:])
    assert step.min() > 5.0, "well apart: 2.3 is just seen (common practice)"
    assert step.max() < 2.0 * step.min()


def test_what_lies_beyond_has_the_colour_of_the_end():
    assert np.array_equal(ramp.colours(np.array([-1.0, 2.0])), ramp.colours(np.array([0.0, 1.0])))
    assert ramp.colours(np.zeros((4, 6))).shape == (4, 6, 3)
