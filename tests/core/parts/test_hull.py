"""Convex hulls against scipy's (Qhull)."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from addon.core.parts.hull import hull

CIRCLE = np.linspace(0, 2 * np.pi, 48, endpoint=False)
RING = np.column_stack([8 * np.cos(CIRCLE), 8 * np.sin(CIRCLE)])
GRID = np.stack(np.meshgrid(*[1.7 * np.arange(6)] * 3), axis=-1).reshape(-1, 3)
POINTS = {
    "few": np.random.default_rng(0).normal(size=(5, 3)),
    "many": np.random.default_rng(1).normal(size=(1000, 3)),
    "a grid": GRID,
    "a grid at an angle": Rotation.from_rotvec([0.7, -0.4, 1.1]).apply(GRID),
    "a round": np.concatenate([np.column_stack([size * RING, 0 * CIRCLE + z]) for size in (1, 0.5) for z in (0, 9.6)]),
    "a slope": np.array([(x, y, z) for x in (0, 16) for y, z in ((0, 0), (16, 0), (16, 9.6), (8, 9.6), (0, 1.5))]),
}


@pytest.mark.parametrize("name", POINTS)
def test_a_hull_is_qhull_s(name):
    found, known = hull(POINTS[name].astype(float)), ConvexHull(POINTS[name])
    assert found is not None
    assert found.volume == pytest.approx(known.volume)
    looks = known.equations[:, :3] @ found.normals.T
    assert (np.abs(looks - 1).min(axis=1) < 1e-7).all()  # each of Qhull's faces is one of ours
    for normal in found.normals:
        assert (POINTS[name] @ normal).max() == pytest.approx((found.corners @ normal).max())


def test_edges_are_told_once():
    found = hull(GRID.astype(float))
    assert found is not None
    assert np.abs(found.edges).sum(axis=0) == pytest.approx([1, 1, 1])
    assert len(found.normals) == 6


def test_what_is_flat_has_none():
    assert hull(np.column_stack([RING, 0 * CIRCLE])) is None
    assert hull(np.zeros((4, 3))) is None
    assert hull(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])) is None


@pytest.mark.parametrize("noise_mm", [1e-3, 5e-3])
def test_noise_makes_no_faces(noise_mm):
    """A round with points all over its faces, as a finely drawn mesh has them, and an export's noise on each."""
    heights, places = np.tile(np.linspace(0, 9.6, 20), 48), np.repeat(RING, 20, axis=0)
    ends = [np.column_stack([size * RING, 0 * CIRCLE + z]) for size in (0.3, 0.6, 0.9) for z in (0, 9.6)]
    points = np.concatenate([np.column_stack([places, heights]), *ends])
    points += noise_mm * np.random.default_rng(3).uniform(-1, 1, points.shape)
    found, known = hull(points), ConvexHull(points)
    assert found is not None
    assert found.volume == pytest.approx(known.volume, rel=1e-2)
    assert len(found.normals) < len(known.equations)
    ways = np.random.default_rng(4).normal(size=(500, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    short = (points @ ways.T).max(axis=0) - (found.corners @ ways.T).max(axis=0)
    assert short.max() < 0.03
