import numpy as np
import pytest

from addon.core import contacts, identity
from addon.core.bricks import measured
from tests.core.builds import block, table

QUARTER = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
OVER = np.diag([1.0, -1, -1])  # upside down
ASIDE = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])  # studs to +x


def test_the_body_of_a_brick_leaves_its_studs_out():
    part = measured(block(4, 2, 3))
    assert (part.stud_axis, part.stud_sign) == (2, 1)
    assert part.body_low == pytest.approx([0, 0, 0])
    assert part.body_high == pytest.approx([32, 16, 9.6])


def test_a_tile_has_no_studs():
    part = measured(block(2, 2, 1, studded=False))
    assert part.stud_axis == -1
    assert part.body_high == pytest.approx([16, 16, 3.2])


def test_a_cone_ends_in_a_stud():
    rings = [(3.9, 0.0), (3.9, 1.0), (2.9, 9.6), (2.4, 9.6), (2.4, 11.3)]
    angles = np.arange(24) * np.pi / 12
    points = np.concatenate(
        [np.column_stack([r * np.cos(angles), r * np.sin(angles), np.full(24, z)]) for r, z in rings]
    )
    part = measured(points)
    assert (part.stud_axis, part.stud_sign) == (2, 1)
    assert part.body_high[2] == pytest.approx(9.6)


@pytest.mark.parametrize(("turn", "axis", "sign"), [(OVER, 2, -1), (ASIDE, 0, 1)])
def test_studs_are_found_on_any_side(turn, axis, sign):
    part = measured(block(2, 4, 3) @ turn.T)
    assert (part.stud_axis, part.stud_sign) == (axis, sign)
    assert sorted(part.body_high - part.body_low) == pytest.approx([9.6, 16, 32])


def test_a_fingerprint_knows_the_shape_and_nothing_else():
    points = block(4, 2, 3)
    shuffled = np.random.default_rng(0).permutation(np.repeat(points, 2, axis=0))
    assert identity.fingerprint(shuffled + np.array([1000.0, -3.0, 0.4])) == identity.fingerprint(points)
    assert identity.fingerprint(points + np.random.default_rng(1).normal(scale=1e-5, size=points.shape)) == (
        identity.fingerprint(points)
    )
    others = {int(identity.fingerprint(other)) for other in (block(2, 4, 3), block(4, 2, 1), block(4, 2, 3, False))}
    assert len(others | {int(identity.fingerprint(points))}) == 4


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


def test_who_stands_on_whom_and_with_how_many_studs():
    two, four, tile = block(2, 2, 3), block(4, 2, 3), block(2, 2, 1, studded=False)
    found = contacts.contacts(table([(two, (0, 0, 0)), (four, (8, 0, 9.6)), (two, (16, 0, 0)), (tile, (8, 0, 19.2))]))
    assert {(*seat, studs) for seat, studs in zip(found.seats.tolist(), found.studs.tolist(), strict=True)} == {
        (0, 1, 2), (2, 1, 4), (1, 3, 4),
    }  # fmt: skip
    assert {frozenset(pair) for pair in found.sides.tolist()} == {frozenset({0, 2})}


def test_a_tile_holds_nothing():
    found = contacts.contacts(table([(block(2, 2, 1, studded=False), (0, 0, 0)), (block(2, 2, 3), (0, 0, 3.2))]))
    assert found.studs.tolist() == [0]
    assert len(found.joints) == 0


def test_near_pairs_against_all_pairs():
    rng = np.random.default_rng(7)
    low = rng.uniform(0, 300, size=(400, 3))
    high = low + rng.uniform(2, 60, size=(400, 3))
    i, j = np.triu_indices(400, 1)
    near = ((low[i] <= high[j] + 0.5) & (low[j] <= high[i] + 0.5)).all(axis=1)
    assert contacts.near_pairs(low, high, 0.5).tolist() == np.stack([i[near], j[near]], axis=1).tolist()
