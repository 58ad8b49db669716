"""What shells measure and how far points are from them, against trimesh; rotations are scipy's."""

import numpy as np
import pytest
import trimesh
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from addon.core.build.boxes import Boxes
from addon.core.parts.solids import Solids
from addon.core.parts.surface import distances

seeds = st.integers(0, 2**32 - 1)


def heap(*meshes):
    """Solids of meshes, shell after shell."""
    counts = [len(mesh.faces) for mesh in meshes]
    return Solids.of(np.concatenate([mesh.triangles for mesh in meshes]), np.cumsum([0, *counts[:-1]]))


def some_shells(seed):
    rng = np.random.default_rng(seed)
    shapes = [
        trimesh.creation.box(rng.uniform(1, 40, 3)),
        trimesh.creation.cylinder(2.4, 1.7, sections=int(rng.integers(8, 40))),
        trimesh.creation.annulus(2.4, 3.2, 8.6, sections=24),
        trimesh.creation.icosphere(subdivisions=1, radius=5),
        trimesh.creation.cone(4, 9.6, sections=12),
    ]
    return [mesh.apply_transform(pose(rng)) for mesh in shapes]


def pose(rng):
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.random(rng=rng).as_matrix()
    matrix[:3, 3] = rng.uniform(-500, 500, 3)
    return matrix


@given(seed=seeds)
@settings(max_examples=20, deadline=None)
def test_boxes_volumes_and_areas_are_trimeshs(seed):
    meshes = some_shells(seed)
    found = heap(*meshes)
    assert np.allclose(found.boxes.low, [mesh.bounds[0] for mesh in meshes])
    assert np.allclose(found.boxes.high, [mesh.bounds[1] for mesh in meshes])
    assert np.allclose(found.volume, [mesh.volume for mesh in meshes])
    assert np.allclose(found.area, [mesh.area for mesh in meshes])


@given(seed=seeds)
@settings(max_examples=20, deadline=None)
def test_a_box_has_its_own_size_however_it_lies(seed):
    rng = np.random.default_rng(seed)
    sizes, poses = rng.uniform(2, 60, (3, 3)), [pose(rng) for _ in range(3)]
    assume(all(np.abs(each[:3, :3]).max() < np.cos(np.radians(3)) for each in poses))
    found = heap(*(trimesh.creation.box(size).apply_transform(each) for size, each in zip(sizes, poses, strict=True)))
    assert np.allclose(np.sort(found.size, axis=1), np.sort(sizes, axis=1))


@pytest.mark.parametrize("degrees", [4, 15, 30, 45, 86])
@pytest.mark.parametrize("axis", ["x", "y", "z"])
def test_a_brick_turned_about_one_axis_has_its_own_size(axis, degrees):
    """The file's axis that it is turned about still has much of the surface; less than 2.6 degrees are none."""
    stud = trimesh.creation.cylinder(2.4, 1.7, sections=24).apply_translation((4, 4, 5.65))
    brick = trimesh.util.concatenate([trimesh.creation.box((32, 16, 9.6)), stud])
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler(axis, degrees, degrees=True).as_matrix()
    assert np.allclose(np.sort(heap(brick.apply_transform(matrix)).size[0]), [11.3, 16, 32])


@given(seed=seeds)
@settings(max_examples=15, deadline=None)
def test_a_stud_has_its_width_and_height_however_it_lies(seed):
    rng = np.random.default_rng(seed)
    found = heap(trimesh.creation.cylinder(2.4, 1.7, sections=32).apply_transform(pose(rng)))
    low, middle, wide = np.sort(found.size[0])
    assert low == pytest.approx(1.7)
    assert (middle, wide) == (pytest.approx(4.8, rel=0.01), pytest.approx(4.8, rel=0.01))


def test_bodies_leave_studs_out_as_the_lattice_does():
    block = trimesh.creation.box((32, 16, 9.6))
    stud = trimesh.creation.cylinder(2.4, 1.7, sections=16).apply_translation((4, 4, 5.65))
    brick = trimesh.util.concatenate([block, stud])
    found, known = heap(brick, block).boxes, Boxes.of([brick.vertices, block.vertices])
    for end in ("low", "high", "body_low", "body_high"):
        assert np.allclose(getattr(found, end), getattr(known, end))
    assert found.body_high[0, 2] == pytest.approx(4.8)
    assert found.high[0, 2] == pytest.approx(6.5)


def test_an_inside_out_shell_has_its_volume_and_a_flat_one_has_none():
    block, sheet = trimesh.creation.box((2, 3, 4)), trimesh.creation.box((5, 5, 0))
    block.invert()
    found = heap(block, sheet)
    assert found.volume == pytest.approx([24, 0])
    assert np.isfinite(found.size).all()


def test_no_shells_measure_nothing():
    found = Solids.of(np.zeros((0, 3, 3)), np.zeros(0, int))
    assert len(found.boxes) == len(found.volume) == len(found.size) == 0


@given(seed=seeds)
@settings(max_examples=20, deadline=None)
def test_distances_are_those_of_trimesh(seed):
    rng = np.random.default_rng(seed)
    mesh = some_shells(seed)[int(rng.integers(5))]
    low, high = mesh.bounds
    points = np.concatenate([rng.uniform(low - 10, high + 10, (30, 3)), mesh.vertices[:4], mesh.triangles_center[:4]])
    true = trimesh.proximity.closest_point_naive(mesh, points)[1]
    assert np.allclose(distances(points, mesh.triangles, 100.0), true, atol=1e-6)


def test_what_is_out_of_reach_is_infinitely_far():
    mesh = trimesh.creation.box((8, 8, 3.2))
    assert np.isinf(distances(np.array([[20.0, 0, 0], [21, 0, 0]]), mesh.triangles, 1.0)).all()
    assert distances(np.array([[4.5, 0, 0]]), mesh.triangles, 1.0) == pytest.approx([0.5])


def test_triangles_without_surface_are_lines_and_points():
    line, dot = np.array([[[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]]), np.zeros((1, 3, 3))
    assert distances(np.array([[1.0, 3, 4], [5, 0, 0]]), line, 10.0) == pytest.approx([5, 3])
    assert distances(np.array([[1.0, 2, 2]]), dot, 10.0) == pytest.approx([3])
