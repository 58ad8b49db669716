"""Errors travel up what stands on one another: judged by scipy, against the textbook's random walk.

Independent contributions add up as their squares (Drake: Dimensioning and Tolerancing Handbook, McGraw-Hill 1999, ch.
9); two sums of them correlate as their standard deviations (Cox, Miller: The Theory of Stochastic Processes, Methuen
1965, ch. 2). Both from memory.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import stats
from scipy.spatial.transform import Rotation

from addon.core.build import contacts
from addon.core.fit import fit, stackup, targets
from bench import builds
from bench.stackup import MOTIONS, SIZES, added_up, after_one_another, shipped, towers
from tests.core import builds as parts

WELL_LOVED = shipped("well-loved")


@cache
def tower(size: tuple[int, int], seed: int = 1):
    return towers(size, WELL_LOVED, seed)


@pytest.mark.parametrize("name", MOTIONS)
@pytest.mark.parametrize("size", SIZES)
def test_bricks_of_a_tower_go_with_each_other_as_a_walk_does(size, name):
    # 400 towers: Fisher's z is known to 1 / sqrt(397); five of these are allowed, since the spreads are estimates too.
    if size == (1, 1) and name.startswith("tilt"):
        pytest.skip("one stud: its ends are too near to each other for the play to bear all of it")
    (motions, found), (axis, _) = tower(size), MOTIONS[name]
    assert found.cut == 0
    values = motions[..., axis]
    spread = values.std(axis=0)
    for lower, upper in ((9, 19), (9, 39), (19, 39)):
        told = stats.pearsonr(values[:, lower], values[:, upper]).statistic
        assert np.arctanh(told) == pytest.approx(np.arctanh(spread[lower] / spread[upper]), abs=5.0 / np.sqrt(397.0))
        assert told == pytest.approx(np.sqrt((lower + 1.0) / (upper + 1.0)), abs=0.15)


@pytest.mark.parametrize("name", MOTIONS)
@pytest.mark.parametrize("size", SIZES)
def test_one_step_says_nothing_of_the_next(size, name):
    (motions, _), (axis, _) = tower(size), MOTIONS[name]
    assert abs(after_one_another(motions[..., axis])) < 0.07  # -0.3 to -0.5 for bricks that are drawn one by one


@pytest.mark.parametrize("name", MOTIONS)
@pytest.mark.parametrize("size", SIZES)
def test_variance_grows_with_the_number_of_joints(size, name):
    (motions, _), (axis, _) = tower(size), MOTIONS[name]
    variance = motions[..., axis].var(axis=0)
    assert stats.linregress(np.arange(len(variance)), variance).rvalue > 0.95
    if size != (1, 1) or not name.startswith("tilt"):
        assert np.sqrt(variance[-1]) == pytest.approx(added_up(motions[..., axis])[-1], rel=0.12)


@pytest.mark.parametrize("size", SIZES)
def test_a_lone_tower_leans_as_its_preset_says(size):
    # 800 values: 2.5 % known, four times that allowed; its foot is put down like any brick.
    aside = tower(size)[0][..., :2]
    step = np.sqrt(aside[:, 39].var(axis=0).mean() - aside[:, 0].var(axis=0).mean())
    assert step == pytest.approx(WELL_LOVED.lean_mm * np.sqrt(39 * 9.6 / 100.0), rel=0.1)


def test_seats_open_by_chance_and_never_close():
    motions, _ = tower((2, 2))
    gaps = np.diff(motions[..., 2], axis=1)
    assert gaps.min() > 0.0
    assert gaps.max() <= WELL_LOVED.lift_mm + 1e-6
    assert gaps.mean() == pytest.approx(targets.rise(WELL_LOVED, 1.0) * 9.6, rel=0.03)
    other = np.diff(tower((2, 2), seed=2)[0][..., 2], axis=1)
    # Kolmogorov, Smirnov: alike in kind; Pearson: not in any one tower. Known to 1 / sqrt(400 x 39), five allowed.
    assert stats.ks_2samp(gaps.ravel(), other.ravel()).pvalue > 1e-3
    assert abs(stats.pearsonr(gaps.ravel(), other.ravel()).statistic) < 5.0 / np.sqrt(gaps.size)


def test_a_place_rises_by_seed_and_no_course_of_it_by_less_than_nothing():
    level = np.arange(200)
    column = builds.table(np.stack([0 * level, 0 * level, level, *np.full((3, 200), 2)], axis=1))
    height, rise = 3.2 * level, targets.rise(WELL_LOVED, 1.0)
    risen = np.array([targets.leaning(column, height, WELL_LOVED, seed, 1.0)[:, 2] for seed in range(40)])
    assert np.diff(risen, axis=1).min() >= 0.0
    assert np.diff(risen, axis=1).max() <= 2.0 * rise * 3.2 + 1e-12
    assert risen[:, -1].mean() == pytest.approx(rise * height[-1], rel=0.02)
    steps = np.diff(risen[:, ::3], axis=1)
    between = np.corrcoef(steps - steps.mean(axis=0))[np.triu_indices(40, 1)]
    assert abs(between.mean()) < 0.05
    assert between.std() == pytest.approx(1.0 / np.sqrt(steps.shape[1]), rel=0.25)  # of steps without any bond


@pytest.mark.parametrize("seed", range(3))
def test_steps_add_up_one_by_one(seed):
    """The same by a loop over bricks, and a turn by scipy's rotations."""
    rng = np.random.default_rng(seed)
    count = 60
    on = np.array([rng.integers(-1, n) if n else -1 for n in range(count)])
    centre, steps = rng.normal(size=(count, 3)) * 10.0, rng.normal(size=(count, 6)) * 1e-5
    expected = np.zeros((count, 6))
    for n, below in enumerate(on):
        expected[n] = steps[n]
        if below >= 0:
            arm = centre[n] - centre[below]
            level = np.array([arm[0], arm[1], 0.0])
            expected[n] += expected[below]
            expected[n, :3] += Rotation.from_rotvec(expected[below, 3:]).apply(level) - level
    shuffled = rng.permutation(count)
    place = np.argsort(shuffled)
    stands = stackup.Stands(np.where(on < 0, -1, place[on])[shuffled], np.zeros(count, dtype=bool))
    assert stackup.added_up(steps[shuffled], stands, centre[shuffled], np.ones((count, 3))) == pytest.approx(
        expected[shuffled], abs=1e-7
    )


def test_who_takes_errors_on():
    laid = np.array([
        (0, 0, 0, 2, 2, 3), (0, 0, 3, 2, 2, 3), (0, 0, 6, 2, 2, 3),  # a stack of three
        (10, 0, 0, 2, 2, 3), (12, 0, 0, 2, 2, 3), (11, 0, 3, 2, 2, 3), (11, 0, 6, 1, 1, 3),  # one across two, one on it
        (20, 0, 0, 2, 4, 3), (20, 0, 3, 1, 1, 3),  # one on a part of another
        (30, 0, 0, 2, 2, 3), (30, 0, 3, 2, 2, 3), (32, 0, 3, 2, 2, 3), (30, 0, 6, 4, 2, 3),  # one held from above
    ])  # fmt: skip
    bricks = builds.table(laid)
    seats = stackup.seats(contacts.contacts(bricks))
    stands = stackup.stands(bricks, *seats, np.zeros(len(laid), dtype=bool))
    assert stands.on.tolist() == [-1, 0, 1, -1, -1, -1, 5, -1, 7, -1, -1, -1, -1]
    assert stands.goes_on.tolist() == [False, True, True, *[False] * 10]
    rooted = np.arange(len(laid)) == 1
    assert stackup.stands(bricks, *seats, rooted).on.tolist()[:3] == [-1, -1, 1]


def test_a_part_that_reaches_beneath_what_it_stands_on_hands_no_errors_round():
    """Two bricks joined with a third between them: that stands on the part, and the part on it."""
    brick = parts.block(2, 2, 3)
    clasp = parts.joined([(brick, (0, 0, 0)), (brick, (0, 0, 19.2))])
    laid = parts.table([(clasp, (0, 0, 0)), (brick, (0, 0, 9.6)), (brick, (0, 0, 28.8)), (brick, (0, 0, 38.4))])
    seats = stackup.seats(contacts.contacts(laid))
    assert sorted(zip(*seats[:2], strict=True)) == [(0, 1), (0, 2), (1, 0), (2, 3)]
    assert stackup.stands(laid, *seats, np.zeros(4, dtype=bool)).on.tolist() == [-1, -1, 0, 2]
    found = fit.fitted(laid, WELL_LOVED, 1, 1.0)
    assert np.isfinite(found.motions.turn).all()
    assert found.cut == 0


def test_what_hangs_down_beside_what_it_lies_on_gets_a_place():
    """A bracket on a plate, and bricks on it: its flange is the lowest of them."""
    plate, flange = parts.block(4, 2, 1), parts.block(4, 1, 4, studded=False)
    bracket = parts.joined([(plate, (0, 0, 3.2)), (flange, (0, -8.3, -6.4))])
    laid = parts.table([(plate, (0, 0, 0)), (bracket, (0, 0, 0)), (plate, (0, 0, 6.4)), (plate, (0, 0, 9.6))])
    stands = stackup.stands(laid, *stackup.seats(contacts.contacts(laid)), np.zeros(4, dtype=bool))
    assert stands.on.tolist() == [-1, 0, 1, 2]
    assert not stands.goes_on[1]
    found = fit.fitted(laid, WELL_LOVED, 1, 1.0)
    assert np.isfinite(found.motions.shift).all()
    assert np.isfinite(found.motions.turn).all()
    assert found.cut == 0


def test_without_lean_no_error_travels():
    motions, _ = towers((2, 2), replace(WELL_LOVED, lean_mm=0.0))
    assert stats.pearsonr(motions[:, 20, 5], motions[:, 30, 5]).statistic == pytest.approx(0.0, abs=0.2)
    assert after_one_another(motions[..., 5]) < -0.3


def test_what_stands_on_a_pinned_brick_begins_there():
    bricks = builds.stack(30)
    fixed = np.arange(30) == 15
    found = fit.fitted(bricks, builds.LIMITS, 2, 1.0, fixed)
    assert found.cut == 0
    goal = targets.targets(bricks, found.contacts, builds.LIMITS, 2, 1.0, fixed)
    assert np.abs(goal.wanted[16, :2]).max() <= builds.LIMITS.shift_mm


@pytest.mark.parametrize("looseness", [1.0, 2.0])
def test_however_high_a_stack_is_every_brick_gets_what_it_wants(looseness):
    found = fit.fitted(builds.stack(3000), builds.LIMITS, 1, looseness)
    assert (found.cut, found.held_back, found.share.min()) == (0, 0, 1.0)
    single = builds.table(np.stack([*np.zeros((2, 800), dtype=int), 3 * np.arange(800), *np.ones((2, 800), dtype=int),
                                    np.full(800, 3)], axis=1))  # fmt: skip
    found = fit.fitted(single, shipped("toy-box"), 1, looseness)
    assert (found.cut, found.held_back) == (0, 0)
