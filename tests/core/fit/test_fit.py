from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from addon.core import draws, rigid, units
from addon.core.build.touching import JOINT
from addon.core.fit import clearance, fit, overlap, play
from addon.core.fit.motions import Motions, farthest
from addon.core.presets.preset import Fit
from tests.core.builds import block, table, wall

LIMITS = Fit(
    shift_mm=0.05,
    lift_mm=0.03,
    twist_deg=3.0,
    tilt_deg=0.12,
    clearance_mm=0.1,
    play_mm=0.05,
    lean_mm=0.03,
    neatness=0.5,
)


def fitted(bricks, limits=LIMITS, seed=3, looseness=1.0, fixed=None):
    return fit.fitted(bricks, limits, seed, looseness, fixed)


def field(count: int, studs_x: int = 2, studs_y: int = 2):
    """Many bricks, each standing alone."""
    brick = block(studs_x, studs_y, 3)
    return table([(brick, (100.0 * (n % 100), 100.0 * (n // 100), 0.0)) for n in range(count)])


@pytest.mark.parametrize("looseness", [0.3, 1.0, 2.0])
def test_joints_keep_their_play_and_bodies_keep_apart(looseness):
    bricks = wall(12, 12)
    sits = fitted(bricks, looseness=looseness)
    assert sits.cut == 0
    joints = np.flatnonzero(sits.contacts.kind == JOINT)
    steps = play.steps(bricks, sits.contacts, joints, sits.motions)
    assert np.array_equal(steps, sits.steps[joints])
    assert steps.max() <= LIMITS.play_mm + 1e-6
    assert overlap.largest_interference(bricks, sits.contacts, sits.motions) <= 1e-6


def test_no_looseness_is_no_motion():
    still = fitted(wall(), looseness=0.0).motions
    assert not still.shift.any()
    assert not still.turn.any()


def test_a_brick_alone_moves_as_it_was_drawn():
    """Half of the bricks use the limits in full, half a part of them: scipy.stats.truncnorm, mixed.

    Bound on D by Massart (1990) at 1e-6.
    """
    moved = fitted(field(4000)).motions
    cut = stats.truncnorm(-draws.CLIP_SIGMA, draws.CLIP_SIGMA, scale=LIMITS.shift_mm / draws.CLIP_SIGMA)

    def mixed(x):
        return LIMITS.neatness * cut.cdf(x / 0.4) + (1.0 - LIMITS.neatness) * cut.cdf(x)

    for axis in (0, 1):
        assert stats.kstest(moved.shift[:, axis], mixed).statistic < np.sqrt(np.log(2e6) / (2 * 4000))


def test_seed_decides_and_decides_all():
    bricks = wall()
    first, again, other = (fitted(bricks, seed=seed).motions for seed in (3, 3, 4))
    assert first.shift.tobytes() == again.shift.tobytes()
    assert first.turn.tobytes() == again.turn.tobytes()
    assert (first.shift[:, 0] != other.shift[:, 0]).all()


def test_a_brick_keeps_its_motion_in_any_order_and_company():
    brick = block(2, 2, 3)
    places = [(64.0 * n, 0.0, 0.0) for n in range(20)]
    everyone = fitted(table([(brick, at) for at in places])).motions
    some = fitted(table([(brick, at) for at in places[10:3:-1]])).motions
    assert np.array_equal(some.shift, everyone.shift[10:3:-1])
    assert np.array_equal(some.turn, everyone.turn[10:3:-1])


@pytest.mark.shared_out
def test_bricks_held_by_one_stud_turn_and_long_ones_hardly():
    """Twist follows from play and the studs' span alone: 0.05 mm over 28 mm is 0.1 degrees."""

    def twist(studs_x):
        pairs = [[(block(8, 2, 3), (100.0 * n, 0, 0)), (block(studs_x, 1, 1), (100.0 * n, 0, 9.6))] for n in range(150)]
        bricks = table([each for pair in pairs for each in pair])
        return np.abs(fitted(bricks).motions.turn[1::2, 2])

    single, double, long = twist(1), twist(2), twist(8)
    assert units.degrees(single.max()) > 2.0
    assert single.std() > 2.0 * double.std() > 4.0 * long.std()
    assert long.max() < 2.5 * 0.05 / 28.0


def test_what_cannot_move_stays_and_others_keep_clear():
    bricks = wall()
    fixed = np.arange(len(bricks)) % 5 == 0
    sits = fitted(bricks, looseness=2.0, fixed=fixed)
    assert not sits.motions.shift[fixed].any()
    assert not sits.motions.turn[fixed].any()
    assert sits.motions.shift[~fixed].any(axis=1).all()
    assert overlap.largest_interference(bricks, sits.contacts, sits.motions) <= 1e-6


def test_the_base_stays():
    plate, brick = block(8, 8, 1), block(2, 2, 3)
    sits = fitted(table([(plate, (0, 0, 0)), (brick, (0, 0, 3.2)), (brick, (48, 48, 3.2))])).motions
    assert not sits.shift[0].any()
    assert sits.shift[1:].any(axis=1).all()


def test_a_tower_leans_as_a_whole():
    """The top of 30 bricks goes aside by far more than one joint's play, and its neighbours in height with it."""
    tower = table([(block(2, 2, 3), (0, 0, 9.6 * n)) for n in range(30)])
    limits = replace(LIMITS, lean_mm=0.06)
    tops = np.array([fitted(tower, limits, seed=seed).motions.shift[-1, 0] for seed in range(40)])
    assert 0.06 * 2.88**0.5 * 0.6 < tops.std() < 0.06 * 2.88**0.5 * 1.4
    one = fitted(tower, limits).motions.shift
    assert np.abs(np.diff(one[:, 0])).max() <= 1.5 * LIMITS.play_mm  # between centres, tilts included


def test_clearance_is_added_only_where_the_export_has_none():
    tight, loose = table([(block(2, 4, 3), (0, 0, 0))]), table([(block(2, 4, 3, clearance=0.1), (0, 0, 0))])
    half = tight.half_in_part * clearance.shrinkage(tight, 0.1)
    assert half[0] == pytest.approx([7.9, 15.9, 4.8])
    assert clearance.shrinkage(loose, 0.1)[0] == pytest.approx([1.0, 1.0, 1.0])
    assert clearance.shrinkage(loose, 0.15)[0, 0] == pytest.approx(15.7 / 15.8)


def test_measures_of_a_known_motion():
    bricks = table([(block(2, 2, 3), (0, 0, 0)), (block(2, 2, 3), (0, 0, 9.6))])
    touching = fitted(bricks).contacts
    aside, down = np.array([[0, 0, 0], [0.03, 0.04, 0.0]]), np.array([[0, 0, 0], [0, 0, -0.02]])
    none = np.zeros((2, 3))
    one = np.ones((2, 3))
    assert play.steps(bricks, touching, np.array([0]), Motions(aside, none, one))[0] == pytest.approx(0.05)
    sunk = Motions(down, none, one)
    assert overlap.largest_interference(bricks, touching, sunk) == pytest.approx(0.02)
    assert overlap.interferences(bricks, touching, sunk) == pytest.approx([0.02, 0.02])


def test_a_cut_is_told_of_both_bricks_and_of_no_other():
    bricks = table([(block(2, 2, 3), (0, 0, 9.6 * n)) for n in range(4)])
    shift = np.zeros((4, 3))
    shift[3, 2] = -0.05
    sunk = Motions(shift, np.zeros((4, 3)), np.ones((4, 3)))
    assert overlap.interferences(bricks, fitted(bricks).contacts, sunk) == pytest.approx([0.0, 0.0, 0.05, 0.05])


def test_the_farthest_corner_of_a_known_motion():
    """A chord of a circle: 2 r sin(half the angle), r being half the body's diagonal across the axis."""
    turn = rigid.from_euler(np.array([[0.0, 0.5 * np.pi, 0.0], [0.0, 0.0, 0.0]]), "XYZ")
    bricks = table([(block(2, 4, 3), (0, 0, 0)), (block(2, 4, 3), (90, 0, 0))], turn)
    none, one = np.zeros((2, 3)), np.ones((2, 3))
    assert farthest(bricks, Motions(np.tile([0.03, 0.04, 0.12], (2, 1)), none, one)) == pytest.approx([0.13, 0.13])
    twisted = farthest(bricks, Motions(none, np.tile([0.0, 0.0, 0.02], (2, 1)), one))
    radii = np.array([0.5 * np.hypot(9.6, 32.0), 0.5 * np.hypot(16.0, 32.0)])  # on its side, and upright
    assert twisted == pytest.approx(2.0 * radii * np.sin(0.01))
    assert not farthest(bricks, Motions(none, none, one)).any()
