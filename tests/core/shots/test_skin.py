"""The faces that rays meet, against SciPy's hulls and bricks counted by hand."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from addon.core.parts.hull import BOX, hull
from addon.core.shots import skin
from tests.core.builds import block, table


def area(corners: np.ndarray) -> float:
    """Of a flat polygon, by its corners once around."""
    arm = corners[1:] - corners[0]
    return 0.5 * float(np.linalg.norm(np.cross(arm[:-1], arm[1:]).sum(axis=0)))


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_faces_of_a_hull_cover_it(seed):
    points = np.random.default_rng(seed).normal(size=(12, 3)) * (8.0, 16.0, 4.0)
    found = hull(points)
    assert sum(area(found.corners[around]) for around in skin.polygons(found)) == pytest.approx(
        ConvexHull(points).area, rel=1e-6
    )


def test_a_box_has_six_faces():
    around = skin.polygons(BOX)
    assert len(around) == 6
    assert [area(BOX.corners[each]) for each in around] == pytest.approx([4.0] * 6)


def test_only_studs_that_nothing_stands_on_are_there_to_be_met():
    """A 2x4 with a 2x2 on half of its studs: four free studs of each, nine faces a stud, six a body."""
    bricks = table([(block(4, 2, 3), (0.0, 0.0, 0.0)), (block(2, 2, 3), (8.0, 0.0, 9.6))])
    found = skin.of_bricks(bricks)
    assert np.bincount(found.brick).tolist() == [6 + 4 * 9, 6 + 4 * 9]
    top = bricks.high[:, 2].max() + 1.7
    assert found.corners[:, 2].max() == pytest.approx(top)
