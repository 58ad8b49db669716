"""Flat faces made flat: shapes whose planes are known, their points put off them by a known noise."""

import numpy as np
import pytest
import trimesh

from addon.core.wear.creases import Faces
from addon.core.wear.planes import flattened

NOISE_MM = 5e-3
TOP_MM, SIDES = 30.0, 24


def faces(mesh: trimesh.Trimesh) -> Faces:
    return Faces(np.array(mesh.vertices), mesh.faces.ravel(), np.full(len(mesh.faces), 3))


def noisy(mesh: trimesh.Trimesh, most_mm: float) -> Faces:
    noise = np.random.default_rng(4).uniform(-most_mm, most_mm, mesh.vertices.shape)
    return faces(trimesh.Trimesh(mesh.vertices + noise, mesh.faces, process=False))


def plate() -> trimesh.Trimesh:
    """A long plate with a round hole: slivers along its rims, and no point in the middle of a face."""
    ring = trimesh.creation.annulus(2.4, 12.0, 3.2, sections=SIDES)
    return trimesh.util.concatenate([ring, trimesh.creation.box((TOP_MM, 8.0, 3.2)).apply_translation((0, 20, 0))])


def ridges(shape: Faces, drawn: trimesh.Trimesh) -> np.ndarray:
    """Degrees between neighbouring faces that were drawn in one plane, as trimesh tells neighbours and planes."""
    unit = shape.vectors / np.linalg.norm(shape.vectors, axis=1, keepdims=True)
    one, other = drawn.face_adjacency[drawn.face_adjacency_angles < 1e-4].T
    return np.degrees(np.arccos(np.clip((unit[one] * unit[other]).sum(axis=1), -1.0, 1.0)))


def test_noise_goes_and_no_point_goes_farther_than_the_noise():
    given = noisy(plate(), NOISE_MM)
    made = flattened(given)
    assert ridges(given, plate()).max() > 0.5
    assert ridges(made, plate()).max() < 0.01
    # Onto a plane fitted through points that are off by as much, and along two planes' meeting at SIDES' angle.
    assert np.linalg.norm(made.points - given.points, axis=1).max() < 4.0 * NOISE_MM


@pytest.mark.parametrize("most_mm", [0.0, 5e-6])
def test_what_is_flat_stays_the_very_same(most_mm):
    given = noisy(plate(), most_mm)
    assert flattened(given) is given


def test_a_surface_that_bends_on_is_left_alone():
    given = noisy(trimesh.creation.icosphere(subdivisions=5, radius=4.0), 1e-3)  # ridges of 0.004 mm
    assert np.linalg.norm(flattened(given).points - given.points, axis=1).max() < 1e-12


def test_a_chamfer_stays_one():
    """A square prism whose edges are cut by 0.1 mm: ridges far above noise."""
    corner = np.array([[4.0, 3.9], [3.9, 4.0]])
    ring = np.concatenate([corner @ np.array([[c, s], [-s, c]]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))])
    shape = trimesh.convex.convex_hull(np.vstack([np.c_[ring, np.full(8, z)] for z in (0.0, 5.0)]))
    made = flattened(noisy(shape, 1e-3))
    assert np.linalg.norm(made.points - shape.vertices, axis=1).max() < 0.02
    assert len(np.unique(np.round(made.points[:, 0], 2))) == 4
