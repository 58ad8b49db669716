import numpy as np
import pytest

from addon.core import near
from addon.core.build import contacts, identity
from addon.core.build.touching import JOINT, REST, SIDE
from addon.core.parts.parts import measured
from addon.core.rigid import rotation
from tests.core.builds import block, table

QUARTER = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
OVER = np.diag([1.0, -1, -1])  # upside down
ASIDE = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])  # studs to +x


def test_the_body_of_a_brick_leaves_its_studs_out():
    part = measured(*block(4, 2, 3))
    assert (part.stud_axis, part.stud_sign) == (2, 1)
    assert part.body_low == pytest.approx([0, 0, 0])
    assert part.body_high == pytest.approx([32, 16, 9.6])


def test_a_tile_has_no_studs():
    part = measured(*block(2, 2, 1, studded=False))
    assert part.stud_axis == -1
    assert part.body_high == pytest.approx([16, 16, 3.2])


def test_a_cone_ends_in_a_stud():
    rings = [(3.9, 0.0), (3.9, 1.0), (2.9, 9.6), (2.4, 9.6), (2.4, 11.3)]
    angles = np.arange(24) * np.pi / 12
    points = np.concatenate(
        [np.column_stack([r * np.cos(angles), r * np.sin(angles), np.full(24, z)]) for r, z in rings]
    )
    ring, after = np.arange(24), np.roll(np.arange(24), -1)
    bands = [np.column_stack([ring + 24 * n, after + 24 * n, ring + 24 * (n + 1)]) for n in range(4)]
    part = measured(points, np.concatenate(bands))
    assert (part.stud_axis, part.stud_sign) == (2, 1)
    assert part.body_high[2] == pytest.approx(9.6)


@pytest.mark.parametrize(("turn", "axis", "sign"), [(OVER, 2, -1), (ASIDE, 0, 1)])
def test_studs_are_found_on_any_side(turn, axis, sign):
    upright = block(2, 4, 3)
    part = measured(upright.vertices @ turn.T, upright.triangles)
    assert (part.stud_axis, part.stud_sign) == (axis, sign)
    assert sorted(part.body_high - part.body_low) == pytest.approx([9.6, 16, 32])


def test_where_the_studs_are():
    part = measured(*block(3, 2, 1))
    assert sorted(map(tuple, part.studs.round(6))) == [(x, y, 3.2) for x in (4.0, 12.0, 20.0) for y in (4.0, 12.0)]
    assert part.full_grid


def test_an_opening_is_left_free():
    """A bridge of two legs and a deck, joined into one mesh: the middle of its body is open below."""
    leg, deck = block(1, 1, 3, studded=False), block(4, 1, 1, studded=False)
    far = leg.vertices + np.array([24.0, 0.0, 0.0])
    vertices = np.concatenate([leg.vertices, far, deck.vertices + np.array([0.0, 0.0, 9.6])])
    triangles = np.concatenate([leg.triangles, leg.triangles + 8, deck.triangles + 16])
    boxes = measured(vertices, triangles).boxes
    middle = boxes[(boxes[:, 0, 0] < 16.0) & (boxes[:, 1, 0] > 16.0)]
    assert len(middle) == 1
    assert middle[0] == pytest.approx(np.array([[8.0, 0.0, 9.6], [24.0, 8.0, 12.8]]))


def test_a_fingerprint_knows_the_shape_and_nothing_else():
    points = block(4, 2, 3).vertices
    rng = np.random.default_rng(0)
    shuffled = rng.permutation(np.repeat(points, 2, axis=0)) + np.array([1000.0, -3.0, 0.4])
    blurred = points + rng.normal(scale=1e-5, size=points.shape)
    assert identity.fingerprint(shuffled) == identity.fingerprint(blurred) == identity.fingerprint(points)
    others = (block(2, 4, 3), block(4, 2, 1), block(4, 2, 3, False))
    assert len({int(identity.fingerprint(each)) for each in (points, *(other.vertices for other in others))}) == 4


def test_identity_follows_part_and_pose():
    brick = block(2, 2, 3)
    here, there = (brick, (0, 0, 0)), (brick, (16, 0, 0))
    first = table([here, there])
    assert table([there, here]).key.tolist() == first.key[::-1].tolist()
    assert len({*first.key, *table([here], [QUARTER]).key, *table([(block(2, 2, 1), (0, 0, 0))]).key}) == 4
    assert identity.duplicates(table([here, here, there]).key) == 1


def test_identity_does_not_hang_on_last_bits():
    rng = np.random.default_rng(3)
    brick, places = block(2, 2, 3), [(8.0 * i, 8.0 * j, 3.2 * k) for i in range(9) for j in range(9) for k in range(9)]
    exact = table([(brick, at) for at in places])
    blurred = table([(brick, tuple(np.array(at) + rng.normal(scale=2e-5, size=3))) for at in places])
    assert np.array_equal(exact.key, blurred.key)
    assert len(np.unique(exact.key)) == len(places)


def found(placed, turns=None) -> set[tuple[int, int, int, int]]:
    """Contacts as (one brick, the other, kind, studs), corners left out."""
    touching = contacts.contacts(table(placed, turns)).of_kind(JOINT, REST, SIDE)
    columns = (touching.a, touching.b, touching.kind, touching.studs)
    return set(zip(*(column.tolist() for column in columns), strict=True))


def test_who_stands_on_whom_and_with_how_many_studs():
    two, four, tile = block(2, 2, 3), block(4, 2, 3), block(2, 2, 1, studded=False)
    placed = [(two, (0, 0, 0)), (four, (8, 0, 9.6)), (two, (16, 0, 0)), (tile, (8, 0, 19.2))]
    assert found(placed) == {(0, 1, JOINT, 2), (2, 1, JOINT, 4), (1, 3, JOINT, 4), (0, 2, SIDE, 0)}


def test_a_tile_holds_nothing():
    assert found([(block(2, 2, 1, studded=False), (0, 0, 0)), (block(2, 2, 3), (0, 0, 3.2))]) == {(0, 1, REST, 0)}


def test_the_studs_of_a_joint_have_places():
    bricks = table([(block(4, 2, 3), (0, 0, 0)), (block(4, 2, 3), (16, 0, 9.6))])
    joint = contacts.contacts(bricks).of_kind(JOINT)
    assert joint.place[0] == pytest.approx([24.0, 8.0, 9.6])
    assert joint.half[0] == pytest.approx([8.0, 8.0])
    assert joint.stud_middle[0] == pytest.approx([0.0, 0.0])
    assert joint.stud_half[0] == pytest.approx([4.0, 4.0])


@pytest.mark.parametrize(
    "turn",
    [OVER, ASIDE, rotation(np.array([0.0, 0.0, 0.5])), rotation(np.array([0.7, -0.4, 1.1]))],
    ids=["upside down", "on its side", "turned", "at any angle"],
)
def test_the_same_build_in_any_orientation(turn):
    """A joint stays what it is however the whole is held; a seam is one until its bricks come to lie on each other."""
    two, four = block(2, 2, 3), block(4, 2, 3)
    upright = [(two, (0, 0, 0)), (four, (0, 0, 9.6)), (two, (16, 0, 0)), (four, (40, 0, 0))]
    placed = [(mesh, tuple(turn @ np.array(at, dtype=float))) for mesh, at in upright]
    kinds = {(frozenset((a, b)), kind, studs) for a, b, kind, studs in found(placed, [turn] * 4)}
    assert kinds == {
        (frozenset((0, 1)), JOINT, 4),
        (frozenset((1, 2)), JOINT, 4),
        (frozenset((0, 2)), REST if abs(turn[2, 0]) > 0.999 else SIDE, 0),
    }


def test_a_mirrored_brick_is_a_brick():
    two = block(2, 2, 3)
    mirrored = np.diag([-1.0, 1.0, 1.0])
    assert found([(two, (0, 0, 0)), (two, (16, 0, 9.6))], [np.eye(3), mirrored]) == {(0, 1, JOINT, 4)}


@pytest.mark.parametrize("away", [0.0, 1e8, 1e13])
def test_near_pairs_against_all_pairs(away):
    rng = np.random.default_rng(7)
    low = rng.uniform(0, 300, size=(400, 3)) + away * rng.integers(0, 2, size=(400, 3))
    high = low + rng.uniform(2, 60, size=(400, 3))
    i, j = np.triu_indices(400, 1)
    close = ((low[i] <= high[j] + 0.5) & (low[j] <= high[i] + 0.5)).all(axis=1)
    assert sorted(near.near_pairs(low, high, 0.5).tolist()) == np.stack([i[close], j[close]], axis=1).tolist()


@pytest.mark.parametrize("away", [0.0, 1e8, 1e13])
def test_points_in_boxes_against_all_of_both(away):
    rng = np.random.default_rng(8)
    low = rng.uniform(0, 300, size=(200, 3)) + away * rng.integers(0, 2, size=(200, 3))
    high = low + rng.uniform(2, 60, size=(200, 3))
    points = np.concatenate([rng.uniform(-20, 380, size=(300, 3)), rng.uniform(low, high), low[:9], high[:9]])
    held = ((low <= points[:, None]) & (points[:, None] <= high)).all(axis=2)
    assert sorted(near.holding(points, low, high).tolist()) == np.argwhere(held).tolist()
    assert len(near.holding(points[:0], low, high)) == len(near.holding(points, low[:0], high[:0])) == 0
