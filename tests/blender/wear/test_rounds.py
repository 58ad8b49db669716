"""Round walls of few sides become round: Blender's own cylinders and cones, measured by the closed forms of prisms."""

from collections.abc import Iterator
from contextlib import contextmanager

import bmesh
import numpy as np
import pytest
from mathutils import Matrix

from addon.scene.wear import rounds

RADIUS, HEIGHT = 2.4, 1.8


@contextmanager
def solid(sides: int, turned: float = 0.0, top: float = RADIUS, radius: float = RADIUS) -> Iterator[bmesh.types.BMesh]:
    shape = bmesh.new()
    try:
        turn = Matrix.Rotation(turned, 4, "Z")
        bmesh.ops.create_cone(
            shape, segments=sides, radius1=radius, radius2=top, depth=HEIGHT, cap_ends=True, cap_tris=False, matrix=turn
        )
        shape.normal_update()
        yield shape
    finally:
        shape.free()


def around(shape: bmesh.types.BMesh) -> np.ndarray:
    return np.array([point.co[:] for point in shape.verts])


@pytest.mark.parametrize("sides", [12, 16, 20, 24, 28])
def test_a_cylinder_of_few_sides_gets_the_volume_that_it_lacks(sides):
    with solid(sides) as shape:
        low, high = around(shape).min(0), around(shape).max(0)
        rounds.make(shape)
        points = around(shape)
        many = len(points) // 2
        assert many % sides == 0
        assert RADIUS * (1 - np.cos(np.pi / many)) < (rounds.FINE_MM if many > sides else rounds.COARSE_MM)
        assert np.abs(np.hypot(points[:, 0], points[:, 1]) - RADIUS).max() < 1e-5
        prism = 0.5 * many * RADIUS**2 * np.sin(2 * np.pi / many) * HEIGHT
        assert shape.calc_volume() == pytest.approx(prism, rel=1e-3)  # sides in a circle are not all as long
        assert (points > low - 2e-3).all()
        assert (points < high + 2e-3).all()
        assert all(edge.is_manifold for edge in shape.edges)
        assert sorted({len(face.verts) for face in shape.faces}) == [4, many]


@pytest.mark.parametrize(
    ("sides", "more"),
    [(6, {}), (8, {}), (48, {}), (13, {}), (16, {"turned": np.pi / 16}), (16, {"radius": 8.0, "top": 8.0})],
)
def test_what_is_meant_to_have_corners_or_has_enough_sides_or_would_outgrow_its_box_stays(sides, more):
    with solid(sides, **more) as shape:
        before = around(shape)
        rounds.make(shape)
        assert np.array_equal(around(shape), before)


def test_a_cone_is_round_at_both_ends():
    with solid(24, top=1.6) as shape:
        rounds.make(shape)
        at = around(shape)
        assert len(at) == 96
        assert np.abs(np.hypot(at[:, 0], at[:, 1]) - np.where(at[:, 2] > 0, 1.6, RADIUS)).max() < 1e-5


def test_a_spike_is_round_down_to_its_tip():
    with solid(24, top=0.004) as shape:
        rounds.make(shape)
        at = around(shape)
        assert len(at) == 96
        assert np.abs(np.hypot(at[:, 0], at[:, 1]) - np.where(at[:, 2] > 0, 0.004, RADIUS)).max() < 1e-5


def test_a_tube_is_round_without_and_within():
    with solid(16) as shape:
        caps: list = [face for face in shape.faces if len(face.verts) == 16]
        bmesh.ops.inset_region(shape, faces=caps, thickness=0.8)
        bmesh.ops.bridge_loops(
            shape, edges=list({edge for cap in caps for edge in cap.edges}), use_merge=False, merge_factor=0.5
        )
        bmesh.ops.delete(shape, geom=caps, context="FACES_ONLY")
        shape.normal_update()
        rounds.make(shape)
        at = around(shape)
        radius = np.hypot(at[:, 0], at[:, 1])
        within = radius < 2.0
        assert within.sum() == (~within).sum() == 64
        assert np.ptp(radius[within]) < 1e-4
        assert np.ptp(radius[~within]) < 1e-4


def test_a_round_that_runs_into_a_dome_stays_with_the_dome():
    with solid(16) as shape:
        top = next(face for face in shape.faces if len(face.verts) == 16 and face.normal.z > 0)
        bmesh.ops.poke(shape, faces=[top], offset=0.6)
        shape.normal_update()
        before = around(shape)
        rounds.make(shape)
        assert np.array_equal(around(shape), before)
