"""What the mould takes off a part, on a box with a stud whose sizes are known."""

import numpy as np
import pytest

from addon.core.parts.parts import measured
from addon.core.wear.easing import eased
from tests.core.builds import block


@pytest.fixture
def part():
    solid = block(2, 2, 3)
    return measured(solid.vertices, solid.triangles)


def test_sides_stand_back_and_what_lies_deeper_stays(part):
    half = 0.5 * (part.body_high - part.body_low)
    middle = 0.5 * (part.body_low + part.body_high)
    shrink = np.array([1.0 - 0.1 / half[0], 1.0 - 0.05 / half[1], 1.0])
    asked = middle + np.array(
        [[half[0], 0, 0], [-half[0], 0, 0], [0, half[1], 0], [0, 0, -half[2]], [half[0] - 0.5, 0, 0]]
    )
    moved = eased(asked, part, shrink, 0.0) - asked
    assert moved == pytest.approx(np.array([[-0.1, 0, 0], [0.1, 0, 0], [0, -0.05, 0], [0, 0, 0], [0, 0, 0]]), abs=1e-9)


def test_studs_are_thinner_by_the_play_along_both_axes_and_stay_round(part):
    play, radius = 0.05, 2.4
    turn = np.radians(np.arange(0.0, 360.0, 15.0))
    ring = part.studs[0] + radius * np.stack((np.cos(turn), np.sin(turn), 0.5 / radius * np.ones(len(turn))), axis=1)
    thin = eased(ring, part, np.ones(3), play)
    assert np.hypot(*(thin - part.studs[0])[:, :2].T) == pytest.approx(radius - np.sqrt(2.0) * play)
    assert thin[:, 2] == pytest.approx(ring[:, 2])
    inside = part.studs[0] - [1.0, 0.0, 2.0]  # a tube below the face
    assert eased(inside[None], part, np.ones(3), play) == pytest.approx(inside[None])


def test_nothing_asked_nothing_moved(part):
    assert np.array_equal(eased(part.vertices, part, np.ones(3), 0.0), part.vertices)
