"""Parts of several shells that neither stand on nor lie in each other: hoses, hands, arms, tracks, heads.

Sizes: common practice of the trade, no published source.
"""

import itertools

import numpy as np
import pytest
import trimesh

from addon.core.parts import likeness, parts, studs, surface
from tests.core.parts.heaps import box, stud, wall

LYING = trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0))


def segments(count=24, radius=1.6, bow=30.0, step=3.3):
    """Closed pieces of a hose, end to end along an arc that stands upright."""
    angle = np.linspace(0.0, count * step / bow, count + 1)
    places = np.stack([bow * (1 - np.cos(angle)), 0 * angle, bow * np.sin(angle)], axis=1)
    for one, other in itertools.pairwise(places):
        yield trimesh.creation.cylinder(radius, segment=[one, other], sections=12)


def after(heap):
    return max(heap.brick) + 1


@pytest.mark.parametrize("thing", [None, 0], ids=["objects", "joined"])
def test_pieces_of_a_hose_are_one_part_also_where_they_hang_over_bricks(thing):
    heap = wall(courses=3)
    if thing is not None:
        heap.thing = [0] * len(heap.thing)
    hose = after(heap)
    for piece in segments():
        heap.put(piece.apply_translation((20, 12, 8)), hose, thing)
    heap.put(trimesh.creation.icosphere(1, 3.0).apply_translation((200, 0, 3)), hose + 1, thing)
    heap.check()


def test_two_hoses_in_one_object_are_two_where_objects_hold_several_bricks():
    heap = wall(courses=3)
    first = after(heap)
    heap.thing = [0] * len(heap.thing)
    for n in range(2):
        for piece in segments():
            heap.put(piece.apply_translation((20, -20 - 16 * n, 40)), first + n, 1)
    heap.check()


@pytest.mark.parametrize("count", [4, 6])
def test_a_row_is_long(count):
    """Four small parts that touch may be four, six are a row."""
    heap = wall(courses=3)
    first = after(heap)
    for n, piece in enumerate(segments(count)):
        heap.put(piece.apply_translation((20, -20, 40)), first + (n if count < 5 else 0))
    heap.check()


def test_a_fence_of_posts_is_no_hose():
    heap = wall(courses=3)
    first = after(heap)
    for n in range(8):
        post = trimesh.creation.cylinder(1.6, 16, sections=12).apply_translation((3.2 * n, -20, 8))
        heap.put(post, first + n)
    heap.check()


def head():
    """A head: a hole below, and a stud above a shoulder that falls away."""
    hole, side = [(0, 3), (2.4, 3), (2.4, 0)], [(3.2, 0), (5.1, 1.6), (5.1, 7.2), (3.6, 8.2)]
    profile = [*hole, *side, (2.4, 8.6), (2.4, 10.3), (0, 10.3)]
    return trimesh.creation.revolve(profile, sections=32)


def torso():
    """A body with a hole as wide as a stud in its side, at x = 7."""
    profile = [(0, -7), (5, -7), (5, 7), (2.4, 7), (2.4, 4.8), (0, 4.8)]
    return trimesh.creation.revolve(profile, sections=24, transform=LYING).apply_translation((0, 0, 10))


def arm(at):
    """What hangs beside a torso, and its pin, sunk in it and 2 mm long in the torso's hole."""
    pin = trimesh.creation.cylinder(2.35, 3.6, sections=24, transform=LYING).apply_translation((6.8, 0, 10))
    return [each.apply_translation(at) for each in (box((7.1, -2.3, -2), (11, 2.3, 12)), pin)]


@pytest.mark.parametrize("joined", [False, True])
def test_an_arms_pin_is_the_arms_and_not_of_what_it_is_pinned_into(joined):
    heap = wall(courses=4)
    if joined:
        heap.thing = [0] * len(heap.thing)
    first, at = after(heap), (-30, 0, 0)
    heap.put(torso().apply_translation(at), first, 0 if joined else None)
    own = 0 if joined else max(heap.thing) + 1
    for shell in arm(at):
        heap.put(shell, first + 1, own)
    heap.check()


def test_a_peg_sunk_in_its_hand_is_one_with_it_and_a_pin_through_two_beams_is_not():
    heap = wall(courses=4)
    heap.thing = [0] * len(heap.thing)
    first = after(heap)
    heap.put(trimesh.creation.annulus(1.6, 2.9, 3.2, sections=24).apply_translation((-30, 0, 4)), first, 0)
    heap.put(trimesh.creation.cylinder(1.3, segment=[(-30, 2.0, 4), (-30, 5.4, 4)], sections=12), first, 0)
    for n in range(2):
        heap.put(trimesh.creation.box((40, 8, 7)).apply_translation((20, 50 + 8 * n, 4)), first + 1 + n, 0)
    heap.put(trimesh.creation.cylinder(2.4, segment=[(12, 47, 4), (12, 61, 4)], sections=16), first + 3, 0)
    heap.check()


def test_what_is_sunk_but_of_another_colour_is_another_part():
    heap = wall(courses=4)
    heap.thing = [0] * len(heap.thing)
    first = after(heap)
    heap.put(trimesh.creation.icosphere(2, 5.0).apply_translation((-30, 0, 5)), first, 0)
    peg = trimesh.creation.cylinder(1.3, segment=[(-30, 2.0, 5), (-30, 9.4, 5)], sections=12)
    heap.put(peg, first + 1, 0, colour=1)
    heap.check()


def test_sleepers_without_studs_are_one_track_with_the_rails_that_tie_them():
    heap = wall(courses=3)
    track, thing = after(heap), max(heap.thing) + 1
    for n in range(4):
        heap.put(box((32 * n, -80, 0), (32 * n + 16, -16, 3.2)), track, thing)
    for y in (-70, -30):
        heap.put(box((0, y - 2, 3.2), (112, y + 2, 10.7)), track, thing)
    heap.check()


def test_tiles_side_by_side_with_a_bar_across_are_taken_apart():
    heap = wall(courses=3)
    first, thing = after(heap), max(heap.thing) + 1
    for n in range(4):
        heap.put(box((16 * n, -32, 0), (16 * n + 16, -16, 3.2)), first + n, thing)
    heap.put(box((0, -25, 3.2), (64, -22, 6.2)), first + 4, thing)
    heap.check()


def test_a_head_has_a_stud_though_its_shoulder_falls_away():
    mesh = head()
    assert mesh.is_watertight
    places, ways = studs.standing(mesh.vertices, mesh.faces)
    assert places == pytest.approx(np.array([[0, 0, 8.6]]), abs=1e-6)
    assert ways.tolist() == [[0, 0, 1]]
    part = parts.measured(mesh.vertices, mesh.faces)
    assert likeness.likeness(mesh.vertices, mesh.faces, part) == likeness.STUDDED


@pytest.mark.parametrize("mesh", [head(), trimesh.util.concatenate([box((0, 0, 0), (16, 8, 3.2)), stud(4, 4, 3.2)])])
def test_studs_are_seen_on_what_is_written_inside_out(mesh):
    right = studs.standing(mesh.vertices, mesh.faces)
    turned = studs.standing(mesh.vertices, mesh.faces[:, ::-1])
    assert len(right[0]) == 1
    for one, other in zip(right, turned, strict=True):
        assert np.array_equal(one, other)


@pytest.mark.parametrize("radius", [1.9, 2.4])
def test_a_rods_end_is_no_stud(radius):
    rod = trimesh.creation.revolve([(0, 0), (radius, 0), (radius, 30), (0, 30)], sections=32)
    assert not len(studs.standing(rod.vertices, rod.faces)[0])


def test_heads_and_hands_of_one_colour_come_apart_where_a_build_is_joined_by_colour():
    heap = wall(courses=3)
    heap.thing = [0] * len(heap.thing)
    first = after(heap)
    for n in range(3):
        heap.put(head().apply_translation((30 * n, -30, 0)), first + 2 * n, 1)
        hand = trimesh.creation.annulus(1.6, 2.9, 3.2, sections=24).apply_translation((30 * n + 12, -30, 4))
        heap.put(hand, first + 2 * n + 1, 1)
    heap.check()


def test_a_seat_has_studs_though_its_back_is_higher():
    seat, back = box((0, 0, 0), (16, 16, 3.2)), box((0, 13, 3.0), (16, 16, 14))
    solid = trimesh.util.concatenate([seat, back, stud(4, 4, 3.2), stud(12, 4, 3.2)])
    part = parts.measured(solid.vertices, solid.faces)
    assert len(part.studs) == 2
    assert likeness.likeness(solid.vertices, solid.faces, part) == likeness.STUDDED


@pytest.mark.parametrize("inward", [False, True])
def test_points_inside_a_ring_are_told(inward):
    """Against the ring's own formula; places on round numbers lie over edges, too."""
    rng = np.random.default_rng(4)
    points = rng.uniform(-5, 5, (3000, 3))
    points[:600] = points[:600].round()
    ring = trimesh.creation.annulus(2, 4, 6, sections=400).triangles
    across = np.hypot(points[:, 0], points[:, 1])
    sure = np.min([np.abs(across - 2), np.abs(across - 4), np.abs(np.abs(points[:, 2]) - 3)], axis=0) > 2e-3
    within = (across > 2) & (across < 4) & (np.abs(points[:, 2]) < 3)
    found = surface.inside(points, ring[:, ::-1] if inward else ring)
    assert (found == within)[sure].all()
    assert 300 < within.sum() < 3000
