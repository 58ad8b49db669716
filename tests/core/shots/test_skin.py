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
    around = skin.polygons(found)
    exact = pytest.approx(ConvexHull(points).area, rel=1e-6)
    assert sum(area(found.corners[each]) for each in around) == exact
    assert sum(area(found.corners[four]) for each in around for four in skin.fours(each)) == exact


def test_a_face_is_told_anticlockwise_from_outside_in_pieces_of_four():
    found = hull(np.random.default_rng(4).normal(size=(12, 3)))
    for four in (four for each in skin.polygons(found) for four in skin.fours(each)):
        one, other, far = (found.corners[four[k]] - found.corners[four[0]] for k in (1, 2, 3))
        outwards = np.cross(one, other)
        assert outwards @ (found.corners[four[0]] - found.corners.mean(axis=0)) > 0.0
        assert np.cross(other, far) @ outwards >= 0.0
    assert [each.tolist() for each in skin.fours(np.arange(5))] == [[0, 1, 2, 3], [0, 3, 4, 4]]


def test_a_box_has_six_faces():
    around = skin.polygons(BOX)
    assert len(around) == 6
    assert [area(BOX.corners[each]) for each in around] == pytest.approx([4.0] * 6)


def test_only_studs_that_nothing_stands_on_are_there_to_be_met():
    """A 2x4 with a 2x2 on half of its studs: four free studs of each, eight sides a stud and a top in three pieces."""
    bricks = table([(block(4, 2, 3), (0.0, 0.0, 0.0)), (block(2, 2, 3), (8.0, 0.0, 9.6))])
    found = skin.of_bricks(bricks)
    assert np.bincount(found.brick).tolist() == [6 + 4 * 11, 6 + 4 * 11]
    top = bricks.high[:, 2].max() + 1.7
    assert found.corners[:, 2].max() == pytest.approx(top)
