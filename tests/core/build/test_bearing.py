"""Which way bricks lie, against turns that the test made itself; shapes by trimesh, an outside library."""

import numpy as np
import pytest
import trimesh
from trimesh.transformations import rotation_matrix

from addon.core.build.bearing import bearing

BRICKS = [trimesh.creation.box((15.8, 31.8, 9.6)).apply_translation((20 * n, 0, 0)) for n in range(4)]
STUDS = [trimesh.creation.cylinder(2.4, 1.7, sections=16).apply_translation((20 * n, 0, 5.6)) for n in range(4)]


@pytest.mark.parametrize("degrees", [3.0, 37.0, 44.0, 60.0, -20.0])
@pytest.mark.parametrize("about", [(0, 0, 1), (1, 0, 0), (0.6, 0, 0.8), (0.36, 0.48, 0.8)])
def test_a_turned_build_is_laid_along_the_axes_the_short_way(degrees, about):
    build = trimesh.util.concatenate(BRICKS + STUDS)
    turn = rotation_matrix(np.radians(degrees), about)[:3, :3]
    found = bearing(build.triangles @ turn.T)
    assert np.allclose(found @ found.T, np.eye(3))
    assert np.linalg.det(found) == pytest.approx(1.0)
    along = found @ turn
    assert np.abs(along).max(axis=1) == pytest.approx(1.0, abs=1e-6)
    assert np.trace(found) >= np.trace(turn.T) - 1e-6


def test_what_lies_along_the_axes_is_not_turned():
    build = trimesh.util.concatenate(BRICKS + STUDS)
    wing = build.copy().apply_transform(rotation_matrix(np.radians(45), (0, 0, 1)))
    cup = trimesh.creation.cylinder(8, 9.6, sections=16).apply_transform(rotation_matrix(0.2, (0, 0, 1)))
    assert (bearing(build.triangles) == np.eye(3)).all()
    assert (bearing(trimesh.util.concatenate([build, wing]).triangles) == np.eye(3)).all()
    assert (bearing(cup.triangles, walls=0.4) == np.eye(3)).all()
    assert (bearing(np.zeros((0, 3, 3))) == np.eye(3)).all()
