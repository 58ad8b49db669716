"""Room for roundings on flat faces, and normals on and between faces: both on shapes whose answers are plain."""

import numpy as np
import pytest
import trimesh

from addon.core.wear.creases import Faces, corner_normals
from addon.core.wear.room import room

SQUARE = np.array([[0.0, 0, 0], [4, 0, 0], [4, 3, 0], [0, 3, 0]])


def rims(*loops):
    starts = np.concatenate(loops)
    ends = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
    return starts, ends, np.tile([0.0, 0.0, 1.0], (len(starts), 1)), np.zeros(len(starts), int)


def test_a_rectangle_has_the_room_of_its_sides():
    found = room(*rims(SQUARE), np.arange(4), 10.0)
    assert found == pytest.approx([3.0, 4.0, 3.0, 4.0])
    assert np.isinf(room(*rims(SQUARE), np.arange(4), 2.0)).all()  # further than asked


def test_a_hole_takes_room_and_has_its_own():
    hole = np.array([[1.0, 1, 0], [1, 2, 0], [3, 2, 0], [3, 1, 0]])  # clockwise: the face lies outside it
    found = room(*rims(SQUARE, hole), np.arange(8), 10.0)
    assert found == pytest.approx([1.0] * 8)


def test_faces_do_not_see_each_other():
    starts, ends, normals, face = rims(SQUARE, SQUARE + np.array([0.0, 0.5, 0.0]))
    face[4:] = 1
    assert room(starts, ends, normals, face, np.arange(4), 10.0) == pytest.approx([3.0, 4.0, 3.0, 4.0])


def faces(mesh: trimesh.Trimesh) -> Faces:
    return Faces(np.asarray(mesh.vertices), np.asarray(mesh.faces).ravel(), np.full(len(mesh.faces), 3))


def test_face_vectors_are_areas_and_normals_as_trimesh_has_them():
    mesh = trimesh.creation.icosphere(subdivisions=2)
    vectors = faces(mesh).vectors
    assert 0.5 * np.linalg.norm(vectors, axis=1) == pytest.approx(mesh.area_faces)
    assert vectors / np.linalg.norm(vectors, axis=1, keepdims=True) == pytest.approx(mesh.face_normals)


def test_a_sharp_box_keeps_the_normals_of_its_faces_and_a_sphere_has_its_own():
    box = faces(trimesh.creation.box())
    assert corner_normals(box, np.ones(12, bool)) == pytest.approx(np.repeat(box.vectors, 3, axis=0))
    ball = trimesh.creation.icosphere(subdivisions=3)
    smooth = corner_normals(faces(ball), np.ones(len(ball.faces), bool))
    assert (smooth * ball.vertices[ball.faces.ravel()]).sum(axis=1).min() > 0.9999


def test_a_rounding_takes_the_normals_of_what_it_joins():
    """A flat face, a strip at 45 degrees, another flat face: the strip's corners belong to the faces beside them."""
    points = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [2, 0, -1], [2, 1, -1], [2, 0, -2], [2, 1, -2]])
    strip = Faces(points, np.array([0, 1, 2, 3, 1, 4, 5, 2, 4, 6, 7, 5]), np.array([4, 4, 4]))
    normals = corner_normals(strip, np.array([True, False, True]))
    up, right = [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]
    assert normals == pytest.approx(np.array([up] * 4 + [up, right, right, up] + [right] * 4))
