"""Parts are found again however an export turned, shifted, shuffled and shook them; rotations are scipy's, meshes and
their volumes trimesh's."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from addon.core.parts.alike import Parts, Shape, _distinct

NOISE = 0.01  # mm, along each axis


def bracket(hand=1):
    """A chiral part: three different limbs along three axes, and a stud."""
    limbs = [((24, 8, 3.2), (0, 0, 0)), ((3.2, 16, 3.2), (-10, 12, 0)), ((4, 4, 9.6), (9, -1, 6.4))]
    meshes = [trimesh.creation.box(size).apply_translation(at) for size, at in limbs]
    meshes.append(trimesh.creation.cylinder(2.4, 1.7, sections=16).apply_translation((0, 0, 2.45)))
    mesh = trimesh.util.concatenate(meshes)
    if hand < 0:
        mesh.apply_transform(np.diag([-1.0, 1, 1, 1]))  # trimesh keeps the faces outward
    return mesh


def studded(length, width, sections=24):
    """A block with as many studs as it is large: many places close together when seen askew."""
    block = trimesh.creation.box((8 * length, 8 * width, 9.6))
    stud = trimesh.creation.cylinder(2.4, 1.7, sections=sections)
    places = [(8 * x - 4 * length + 4, 8 * y - 4 * width + 4, 5.65) for x in range(length) for y in range(width)]
    return trimesh.util.concatenate([block, *(stud.copy().apply_translation(at) for at in places)])


def shape(mesh, tag=0):
    tags = np.broadcast_to(np.asarray(tag, dtype=int).reshape(-1, 1), (3 * len(mesh.faces), 1))
    return Shape(np.asarray(mesh.vertices), mesh.faces.ravel(), np.full(len(mesh.faces), 3), tags)


def told_anew(mesh, turn, shift, rng, noise=NOISE, shuffled=True):
    """The mesh as an export might tell it once more; also where each of its points came to lie."""
    true = mesh.vertices @ turn.T + shift
    points = true + rng.uniform(-noise, noise, true.shape)
    faces = mesh.faces
    if shuffled:
        order = rng.permutation(len(points))
        points, faces = points[order], np.argsort(order)[faces]
        faces = np.stack([np.roll(face, rng.integers(3)) for face in faces[rng.permutation(len(faces))]])
    return trimesh.Trimesh(points, faces, process=False), true


def check(mesh, again, true):
    parts = Parts()
    assert parts.match(shape(mesh)).of == 0
    found = parts.match(shape(again))
    assert found.of == 0
    assert np.linalg.det(found.turn) == pytest.approx(1)
    moved = mesh.vertices @ found.turn.T + found.shift
    if len(np.unique(mesh.vertices.round(3), axis=0)) == len(mesh.vertices):
        far = trimesh.proximity.closest_point_naive(again, moved)[1]
        assert far.max() < 0.06, "mm"
    return moved, true


quarters = st.sampled_from(Rotation.create_group("O").as_matrix().round().tolist()).map(np.array)
turns = st.integers(0, 2**32 - 1).map(lambda seed: Rotation.random(rng=np.random.default_rng(seed)).as_matrix())
shifts = st.tuples(*[st.floats(-2000, 2000)] * 3).map(np.array)
seeds = st.integers(0, 2**32 - 1)


@pytest.mark.parametrize("shuffled", [False, True])
@given(turn=st.one_of(quarters, turns), shift=shifts, seed=seeds)
@settings(max_examples=25, deadline=None)
def test_a_part_is_itself_however_it_is_told(shuffled, turn, shift, seed):
    mesh = bracket()
    again, true = told_anew(mesh, turn, shift, np.random.default_rng(seed), shuffled=shuffled)
    moved, true = check(mesh, again, true)
    assert np.abs(moved - true).max() < 0.06, "mm"  # a chiral part stands in one way only


@pytest.mark.parametrize("size", [(1, 1), (2, 1), (4, 2), (8, 2)])
def test_many_studs_are_told_apart_when_they_lie_askew(size):
    rng = np.random.default_rng(4)
    mesh = studded(*size)
    for _ in range(3):
        turn = Rotation.random(rng=rng).as_matrix()
        again, true = told_anew(mesh, turn, rng.uniform(-100, 100, 3), rng)
        moved, true = check(mesh, again, true)
        gap = np.linalg.norm(moved[:, None] - true[None], axis=2).min(axis=1)
        assert gap.max() < 0.06, "mm, a symmetric part may stand in another way"


@given(turn=st.one_of(quarters, turns), seed=seeds)
@settings(max_examples=15, deadline=None)
def test_a_mirror_image_is_another_part(turn, seed):
    left, right = bracket(), bracket(-1)
    assert left.volume == pytest.approx(right.volume)
    again, _ = told_anew(right, turn, np.zeros(3), np.random.default_rng(seed))
    parts = Parts()
    assert parts.match(shape(left)).of == 0
    assert parts.match(shape(again)).of == 1
    assert len(parts) == 2


def test_a_symmetric_mirror_image_is_the_same_part():
    mesh = studded(4, 2)
    mirrored = mesh.copy().apply_transform(np.diag([-1.0, 1, 1, 1]))
    parts = Parts()
    assert parts.match(shape(mesh)).of == parts.match(shape(mirrored)).of == 0


@given(turn=quarters, seed=seeds)
@settings(max_examples=10, deadline=None)
def test_colours_tell_parts_apart_wherever_they_are(turn, seed):
    mesh, rng = bracket(), np.random.default_rng(seed)
    again, _ = told_anew(mesh, turn, np.zeros(3), rng, shuffled=False)
    one_face = np.repeat(np.arange(len(mesh.faces)) == rng.integers(len(mesh.faces)), 3).astype(int)
    parts = Parts()
    assert parts.match(shape(mesh, np.zeros(3 * len(mesh.faces)))).of == 0
    assert parts.match(shape(again, one_face)).of == 1
    assert parts.match(shape(again, np.ones(3 * len(mesh.faces)))).of == 2
    assert parts.match(shape(again, np.zeros(3 * len(mesh.faces)))).of == 0


def test_a_small_difference_makes_another_part():
    mesh = studded(2, 1)
    longer = mesh.copy()
    longer.vertices[longer.vertices[:, 0] > 7.9] += (0.2, 0, 0)
    parts = Parts()
    assert [parts.match(shape(each)).of for each in (mesh, longer, mesh)] == [0, 1, 0]


def test_only_the_very_points_are_a_copy():
    mesh, parts = bracket(), Parts()
    found = parts.match(shape(mesh))
    assert parts.is_copy(found, shape(mesh))
    moved = mesh.copy().apply_translation((0.01, 0, 0))
    again = parts.match(shape(moved))
    assert again.of == found.of
    assert not parts.is_copy(again, shape(moved))


def test_one_beside_another_stands_where_it_did():
    """`after` leads from the shape that is shown to the one that shows it."""
    mesh, parts, rng = bracket(), Parts(), np.random.default_rng(8)
    poses = [(Rotation.random(rng=rng).as_matrix(), rng.uniform(-50, 50, 3)) for _ in range(2)]
    (one, _), (other, _) = (told_anew(mesh, *pose, rng, noise=0, shuffled=False) for pose in poses)
    parts.match(shape(mesh))
    beside = parts.match(shape(other)).after(parts.match(shape(one)))
    assert np.abs(one.vertices @ beside.turn.T + beside.shift - other.vertices).max() < 1e-6


def test_a_single_place_is_a_part_too():
    dot = Shape(np.ones((3, 3)), np.arange(3), np.array([3]), np.zeros((3, 1), int))
    parts = Parts()
    assert [parts.match(each).of for each in (dot, shape(bracket()), dot)] == [0, 1, 0]


@pytest.mark.parametrize("size", [(0, 3), (1, 2), (500, 1), (500, 4)])
def test_distinct_rows_are_numpys(size):
    rows = np.random.default_rng(5).integers(-3, 3, size)
    assert {*map(tuple, _distinct(rows))} == {*map(tuple, np.unique(rows, axis=0))}
    assert len(_distinct(rows)) == len(np.unique(rows, axis=0))
