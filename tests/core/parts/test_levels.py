"""Which things at one place are levels of detail of one, on shapes by trimesh; what lies inside is scipy's word, too.

Sizes: common practice of the trade, no published source.
"""

import numpy as np
import pytest
import trimesh
from scipy.spatial import Delaunay

from addon.core.parts import levels


def stud(x, y, height, sides):
    return trimesh.creation.cylinder(2.4, 1.7, sections=sides).apply_translation((x, y, height + 0.85))


def brick(sides):
    """A brick of two by three studs, of which each is a shell; no sides, no studs."""
    body = trimesh.creation.box((16, 24, 9.6)).apply_translation((0, 0, 4.8))
    places = [(x, y) for x in (-4, 4) for y in (-8, 0, 8)] if sides else []
    return trimesh.util.concatenate([body, *(stud(x, y, 9.6, sides) for x, y in places)])


def drawn(*outline, wide=16.0):
    """An outline in x and z drawn along y."""
    points = np.array(outline, dtype=float)
    count = len(points)
    ring = np.c_[np.arange(count), np.roll(np.arange(count), -1)]
    walls = np.concatenate([np.c_[ring, ring[:, :1] + count], np.c_[ring[:, 1:], ring[:, ::-1] + count]])
    fan = np.array([(0, n, n + 1) for n in range(1, count - 1)])
    ends = [np.c_[points[:, 0], np.full(count, y), points[:, 1]] for y in (-wide / 2, wide / 2)]
    faces = [walls[:, ::-1], fan, fan[:, ::-1] + count]
    return trimesh.Trimesh(np.concatenate(ends), np.concatenate(faces), process=False)


def things(*placed):
    """Things out of (mesh, place) pairs."""
    meshes = list({id(mesh): mesh for mesh, _ in placed}.values())
    frame = np.array([place for _, place in placed])
    return levels.Things(
        kind=np.array([next(n for n, one in enumerate(meshes) if one is mesh) for mesh, _ in placed]),
        frame=frame,
        low=np.array([mesh.bounds[0] for mesh in meshes]),
        high=np.array([mesh.bounds[1] for mesh in meshes]),
        triangles=np.array([len(mesh.faces) for mesh in meshes]),
        closed=np.array([mesh.is_watertight for mesh in meshes]),
        volume=np.array([abs(mesh.volume) for mesh in meshes]),
        missing=np.array(
            [np.linalg.norm((mesh.face_normals * mesh.area_faces[:, None]).sum(axis=0)) for mesh in meshes]
        ),
        corners=lambda kind: np.asarray(meshes[kind].triangles),
    )


def at(x, y, z, degrees=0.0, scale=1.0):
    place = trimesh.transformations.rotation_matrix(np.radians(degrees), (0, 0, 1))
    place[:3, :3] *= scale
    place[:3, 3] = x, y, z
    return place


FINE, PLAIN, BOX = brick(24), brick(6), brick(0)
TILE = trimesh.creation.box((8, 8, 3.2))
PLACES = [at(0, 0, 0), at(16, 0, 0), at(40, 8, 0, 90), at(0, 0, 9.6), at(7, -31, 0, 33)]


@pytest.mark.parametrize("unit", [1.0, 0.001, 2.54])
def test_only_the_finest_is_kept_in_any_order_turn_and_unit(unit):
    def scaled(place):
        return np.diag([unit, unit, unit, 1.0]) @ place

    each = [(mesh, scaled(place)) for place in PLACES for mesh in (PLAIN, BOX, FINE)]
    assert levels.coarser(things(*each)).reshape(-1, 3).tolist() == [[True, True, False]] * len(PLACES)


def test_a_level_may_have_units_and_axes_of_its_own():
    small = PLAIN.copy().apply_scale(0.1)
    small.apply_transform(at(0, 0, 0, -90))
    assert levels.coarser(things((FINE, at(3, 4, 5)), (small, at(3, 4, 5, 90, scale=10.0)))).tolist() == [False, True]


def test_what_is_simple_is_told_by_its_neighbours():
    twice = [(TILE, at(60, 0, 1.6)), (TILE, at(60, 0, 1.6))]
    assert not levels.coarser(things(*twice)).any(), "the same twice and nothing coarser: no one's levels"
    assert levels.coarser(things(*twice, (FINE, at(0, 0, 0)), (BOX, at(0, 0, 0)))).tolist() == [
        False,
        True,
        False,
        True,
    ]


def test_whole_builds_in_one_mesh_are_levels():
    fine, coarse = (
        trimesh.util.concatenate([mesh.copy().apply_transform(place) for place in PLACES]) for mesh in (FINE, BOX)
    )
    assert levels.coarser(things((coarse, np.eye(4)), (fine, np.eye(4)))).tolist() == [True, False]


SLOPE = drawn((-8, 0), (8, 0), (8, 9.6))
LABEL = trimesh.creation.cylinder(8, 9.6, sections=48)
LABEL.update_faces(np.abs(LABEL.face_normals[:, 2]) < 0.5)
DRUM = trimesh.creation.cylinder(8, 9.6, sections=12)
BESIDE = {
    "wedges that fill one box": (SLOPE, drawn((-8, 9.6), (-8, 0), (0, 4.8), (8, 9.6))),
    "crossing bars": (drawn((-8, 0), (-6, 0), (8, 9), (8, 9.6), (6, 9.6), (-8, 0.6)),
                      drawn((8, 0), (6, 0), (-8, 9), (-8, 9.6), (6.5, 0.6))),
    "a label around a drum": (LABEL, DRUM),
    "a sleeve around a drum": (trimesh.creation.annulus(8, 8.3, 9.6, sections=48), DRUM),
    "a tube in a brick": (trimesh.creation.annulus(2.4, 3.25, 8.4, sections=24).apply_translation((0, 0, 4.2)), BOX),
    "a picture on a picture": (drawn((-8, 0), (8, 0), (8, 1e-4), (0, 1e-4), (-8, 1e-4)),
                               drawn((-8, 0), (8, 0), (8, 1e-4), (-8, 1e-4))),
    "a brick half in another": (BOX, FINE.copy().apply_translation((8, 0, 0))),
}  # fmt: skip


@pytest.mark.parametrize(("one", "other"), BESIDE.values(), ids=BESIDE)
def test_what_only_stands_in_the_way_of_another_stays(one, other):
    assert not levels.coarser(things((one, np.eye(4)), (other, np.eye(4)))).any()


def test_thousands_at_one_place_are_no_levels():
    crowd = [(FINE, np.eye(4)), *((PLAIN, np.eye(4)),) * 400]
    assert not levels.coarser(things(*crowd)).any()


def test_points_inside_are_those_that_scipy_finds_inside():
    solid = trimesh.creation.icosphere(subdivisions=2, radius=8)
    points = np.random.default_rng(4).uniform(-9, 9, (200, 3))
    around = levels._seen_around(points, np.asarray(solid.triangles))
    assert ((around > levels._WITHIN) == (Delaunay(solid.vertices).find_simplex(points) >= 0)).all()
