"""What faces enclose, against trimesh (https://trimesh.org), which cuts them into triangles first."""

import numpy as np
import pytest
import trimesh

from addon.core.parts.enclosed import integrals


def test_it_is_what_trimesh_says_of_triangles():
    mesh = trimesh.creation.annulus(1.0, 2.0, 3.0, sections=12)
    mesh.apply_translation((0.4, -0.2, 1.1))
    starts = np.arange(0, mesh.faces.size, 3)
    found = integrals(mesh.vertices, mesh.faces.ravel(), starts, np.full(len(starts), 3))
    volume, first, second = found[0], found[1:4], found[4:].reshape(3, 3)
    middle = first / volume
    about = second - volume * np.outer(middle, middle)
    assert volume == pytest.approx(mesh.volume)
    assert middle == pytest.approx(mesh.center_mass)
    assert np.eye(3) * np.trace(about) - about == pytest.approx(mesh.moment_inertia)


def test_a_hollow_face_counts_as_the_triangles_that_it_may_be_cut_into():
    """An L whose corner turns inward, as one face and as two squares and one: begun at any of its corners."""
    outline = np.array([[0, 0], [2, 0], [2, 1], [1, 1], [1, 2], [0, 2]], dtype=float)
    points = np.column_stack([outline, np.full(6, 1.5)])
    parts = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5]])
    wanted = integrals(points, parts.ravel(), np.arange(0, 12, 3), np.full(4, 3))
    for first in range(6):
        corners = np.roll(np.arange(6), first)
        assert integrals(points, corners, np.array([0]), np.array([6])) == pytest.approx(wanted)
