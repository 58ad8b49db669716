"""What belongs to which brick, in heaps of loose shells made with trimesh: studs, tubes, posts, prints, marks, pins.

Sizes: common practice of the trade, no published source.
"""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from addon.core.near import near_pairs
from addon.core.parts.assembly import assembled
from tests.core.parts.heaps import PITCH, PLATE, STUD, Heap, box, post, stud, tray, wall


def test_loose_studs_go_to_the_brick_that_they_stand_on_not_to_the_one_above():
    found = wall().check()
    assert (found.lattice.up, found.lattice.sign) == (2, 1)


@given(
    scale=st.sampled_from([1.0, 0.1, 1 / 25.4, 0.001, 1.3, 7e-3]),
    turn=st.sampled_from(Rotation.create_group("O").as_matrix().round().tolist()).map(np.array),
)
@settings(max_examples=8, deadline=None)
def test_whatever_the_unit_and_the_axes(scale, turn):
    found = wall(courses=3).check(scale, turn)
    upright = turn @ (0, 0, 1)
    assert found.lattice.up == np.abs(upright).argmax()
    assert found.lattice.sign == upright.sum()


def test_in_sockets_of_full_bodies_they_stand_on_the_one_below():
    """Solid bodies reach into each other's studs' places."""
    wall(body=lambda at: box(at, np.add(at, (32, 16, 9.6)))).check()


@pytest.mark.parametrize("joined", [True, False])
@pytest.mark.parametrize("outward", [True, False])
def test_sockets_walls_left_by_themselves_are_no_studs_of_the_brick_below(joined, outward):
    """Where the faces on the ground were left out, a tube's inner wall hangs together with nothing but its own roof."""
    heap = Heap()
    for n in range(3):
        brick = heap.put(tray((0, 0, PLATE * n), height=PLATE), n, 0 if joined else n)
        for i in range(3):
            cup = trimesh.creation.cylinder(2.4, 1.7, sections=16)
            cup.update_faces(cup.face_normals[:, 2] > -0.9)
            cup.invert()
            brick.put(cup.apply_translation((8 * (i + 1), 8, PLATE * n + 0.85)), n, 0 if joined else n)
    heap.put(tray((40, 0, 0)), 3, 3)
    for i, j in np.ndindex(4, 2):
        heap.put(stud(44 + PITCH * i, 4 + PITCH * j, 9.6), 3, 3)
    for mesh in heap.meshes if not outward else ():
        mesh.invert()
    heap.check()


def test_tubes_and_posts_are_of_the_brick_around_them():
    heap = wall(courses=3, tubes=True)
    brick = max(heap.brick) + 1
    for n in range(3):
        heap.put(tray((32.0 * n, 24, 0), (4, 1)), brick + n)
        for i in range(3):
            heap.put(post(32 * n + PITCH * (i + 1), 28, 0), brick + n)
    heap.check()


def test_rooted_studs_reach_into_their_body():
    heap = wall(studs=False)
    for n, brick in enumerate(heap.brick.copy()):
        low, high = heap.meshes[n].bounds
        for i, j in np.ndindex(4, 2):
            heap.put(stud(low[0] + 4 + PITCH * i, low[1] + 4 + PITCH * j, high[2], deep=1.0), brick)
    heap.check()


def test_studs_stand_sideways_and_upside_down():
    heap = wall(courses=3, length=4)
    aside = trimesh.creation.cylinder(2.4, STUD, sections=16)
    aside.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))
    for n in (0, 5):  # bricks with a stud on a wall
        low, _ = heap.meshes[heap.brick.index(n)].bounds
        heap.put(aside.copy().apply_translation((low[0] + 12, low[1] - STUD / 2, low[2] + 4.8)), n)
    heap.check()


def test_prints_and_raised_marks_lie_on_their_face():
    heap = wall(courses=3)
    for n in (1, 4):
        low, _ = heap.meshes[heap.brick.index(n)].bounds
        heap.put(box((low[0] + 4, -0.1, low[2] + 2), (low[0] + 28, 0, low[2] + 8)), n)  # a print on the front
    top = [n for n, mesh in enumerate(heap.meshes) if mesh.bounds[1, 2] > 30]
    for n in top[:6]:
        low, high = heap.meshes[n].bounds
        heap.put(box((*(low[:2] + 1.5), high[2]), (*(high[:2] - 1.5), high[2] + 0.15)), heap.brick[n])  # on a stud
    heap.check()


def test_a_pin_through_two_beams_stays_its_own():
    heap = wall(courses=2)
    brick = max(heap.brick) + 1
    for n in range(2):
        beam = trimesh.creation.box((40, 8, 8)).apply_translation((20, 40 + 8 * n, 4))
        heap.put(beam, brick + n)
    pin = trimesh.creation.cylinder(2.4, 15.8, sections=16)
    pin.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))
    heap.put(pin.apply_translation((12, 44, 4)), brick + 2)
    heap.check()


def test_a_brick_of_several_shells_is_one_where_it_hangs_on_a_node():
    """Whatever hangs with one brick on a node of its own and is no brick belongs to it."""
    heap = wall(courses=3)
    thing, brick = max(heap.thing) + 1, max(heap.brick) + 1
    heap.put(tray((0, 32, 0)), brick, thing, family=0)
    heap.put(trimesh.creation.icosphere(1, 3.7).apply_translation((40.3, 40.2, 31)), brick, thing + 1, family=0)
    heap.check()


def test_objects_of_many_bricks_are_taken_apart_and_objects_of_one_stay_whole():
    loose = wall(courses=4)
    joined, apart = Heap(), Heap()
    for mesh, brick in zip(loose.meshes, loose.brick, strict=True):
        joined.put(mesh, brick, 0)
        apart.put(mesh, brick, brick)
    assert len(set(joined.check().home)) == len(set(apart.check().home)) == 12


def test_odd_bricks_in_one_object_are_told_by_the_studs_that_are_part_of_them():
    """Wheel plates and turntables have no brick's size: with no other brick in their object, only their studs tell."""
    heap = wall(courses=3)
    thing, brick = max(heap.thing) + 1, max(heap.brick) + 1
    profile = [(0, 0), (5.4, 0), (5.4, 9.6), (2.4, 9.6), (2.4, 9.6 + STUD), (0, 9.6 + STUD)]
    for n in range(2):
        odd = trimesh.creation.revolve(profile, sections=32).apply_translation((8, 40 + 16 * n, 0))
        assert odd.is_watertight
        heap.put(odd, brick + n, thing)
    heap.check()


def test_open_patches_at_random_are_not_split():
    rng = np.random.default_rng(6)
    heap = Heap()
    for _ in range(300):
        corners = rng.uniform(0, 5, (4, 3)) + rng.uniform(0, 200, 3)
        heap.put(trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False), 0, 0)
    found = assembled(heap.shells(), 1.0, 2)
    assert len(np.unique(found.home)) == 1
    assert found.lattice.share_on_lattice == 0
    assert found.lattice.warnings


@pytest.mark.parametrize("scale", [1.0, 1e6, 1e-6])
def test_shapes_at_random_stay_the_objects_that_they_are(scale):
    rng = np.random.default_rng(2)
    heap = Heap()
    for n in range(60):
        for _ in range(3):
            mesh = trimesh.creation.icosphere(1, rng.uniform(1, 9)).apply_translation(rng.uniform(0, 300, 3))
            heap.put(mesh, n, n)
    found = assembled(heap.shells(scale), 1.0, 2)
    assert found.lattice.share_on_lattice == 0
    assert (heap.shells().thing[found.home] == heap.shells().thing).all()
    assert len(np.unique(found.home)) == 60


ODD = {
    "a sky": [box((-1e5, -1e5, -1e5), (1e5, 1e5, 1e5))],
    "a planet far off": [box((1e9, 0, 0), (1e9 + 16, 16, 9.6))],
    "large numbers": [box((-1e11, -1e11, -1e11), (1e11, 1e11, 1e11))],
    "points": [trimesh.Trimesh(np.full((3, 3), 95.0), [[0, 1, 2]], process=False)],
    "a line": [trimesh.Trimesh([[90, 90, 0], [91, 91, 1], [92, 92, 2]], [[0, 1, 2]], process=False)],
    "a sheet": [trimesh.creation.box((300, 300, 0))],
    "a needle": [box((0, 0, 0), (1e4, 1e-3, 1e-3))],
}


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.filterwarnings("error")
def test_what_is_no_brick_beside_a_build_changes_nothing(odd):
    heap = wall(courses=3)
    brick = max(heap.brick) + 1
    for n, mesh in enumerate(ODD[odd]):
        heap.put(mesh.copy(), brick + n)
    heap.check()


@pytest.mark.parametrize("odd", ODD)
def test_what_is_no_brick_alone_is_left_alone(odd):
    heap = Heap()
    for n, mesh in enumerate(ODD[odd]):
        heap.put(mesh.copy(), n)
    found = assembled(heap.shells(), 1.0, 2)
    assert (found.home == np.arange(len(heap.meshes))).all()


def test_boxes_that_span_everything_do_not_fill_the_grid():
    """What `near_pairs` is given must be sane; a long one among small ones still finds its neighbours."""
    low = np.array([[0.0, 0, 0], [500, 0, 0], [990, 2, 2]])
    high = np.array([[1000.0, 5, 5], [510, 5, 5], [995, 9, 9]])
    assert near_pairs(low, high, 0.1).tolist() == [[0, 1], [0, 2]]
