"""A budget of work: every limit kept however small it is, closer the larger it is, and told where it runs out."""

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from addon.core.fit import fit, summary
from addon.core.fit.budget import Budget
from addon.core.fit.limits import MARGIN_MM
from bench import builds, programme
from tests.core.fit.test_fit_guarantee import CARELESS, DEEPEST, STIFF, deepest_cut, widest_step

BUDGETS = (0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0)
CASES = [("city", 1.0), ("block", 1.0), ("tower", 1.0), ("city", 2.0), ("wall", 2.0)]


@cache
def posed(kind: str, looseness: float) -> programme.Posed:
    return programme.posed(builds.KINDS[kind](300), CARELESS, 1, looseness)


@cache
def fitted(kind: str, looseness: float, budget: float | None) -> fit.Fitted:
    return fit.fitted(posed(kind, looseness).bricks, CARELESS, 1, looseness, budget=budget)


def distance(kind: str, looseness: float, budget: float | None) -> float:
    """Half the squared distance to the wanted motions."""
    problem, motions = posed(kind, looseness), fitted(kind, looseness, budget).motions
    return problem.programme.objective(problem.packed(np.hstack([motions.shift, motions.turn])))


@pytest.mark.shared_out
@pytest.mark.parametrize("budget", [*BUDGETS, 8.0])
@pytest.mark.parametrize(("kind", "looseness"), CASES)
def test_every_limit_is_kept_however_small_it_is(kind, looseness, budget):
    bricks, found = posed(kind, looseness).bricks, fitted(kind, looseness, budget)
    assert found.spent
    assert found.cut == 0
    assert deepest_cut(bricks, found.motions)[0] <= DEEPEST
    assert widest_step(bricks, found.motions) <= CARELESS.play_mm + DEEPEST
    assert found.steps.max() <= CARELESS.play_mm + DEEPEST


@pytest.mark.shared_out
@pytest.mark.parametrize("kind", ["city", "block", "tower"])
def test_more_of_it_comes_closer(kind):
    # On average: sweeps overshoot a little, so that one build may come off worse with one more.
    far = np.zeros(len(BUDGETS) + 1)
    for seed in range(6):
        problem = programme.posed(builds.KINDS[kind](300), CARELESS, seed, 1.0)
        for number, budget in enumerate((*BUDGETS, None)):
            motions = fit.fitted(problem.bricks, CARELESS, seed, 1.0, budget=budget).motions
            far[number] += problem.programme.objective(problem.packed(np.hstack([motions.shift, motions.turn])))
    assert (np.diff(far) <= 0.0).all()
    assert far[-1] < 0.5 * far[0]


@pytest.mark.parametrize(("kind", "looseness"), CASES)
def test_nothing_at_all_is_closer_than_no_motion(kind, looseness):
    problem = posed(kind, looseness)
    rest = problem.programme.objective(problem.packed(np.zeros((300, 6))))
    assert distance(kind, looseness, 0.0) < rest


@pytest.mark.parametrize(("kind", "looseness"), CASES)
def test_enough_of_it_changes_no_bit(kind, looseness):
    found, whole = fitted(kind, looseness, 1e6), fitted(kind, looseness, None)
    assert not found.spent
    assert found.held_back == whole.held_back == 0
    assert found.motions.shift.tobytes() == whole.motions.shift.tobytes()
    assert found.motions.turn.tobytes() == whole.motions.turn.tobytes()


@pytest.mark.parametrize("budget", [0.0, 3.0])
def test_the_same_every_time_and_in_any_order(budget):
    bricks, first = posed("block", 1.0).bricks, fitted("block", 1.0, budget)
    order = np.random.default_rng(4).permutation(len(bricks))
    second = fit.fitted(builds.only(bricks, order), CARELESS, 1, 1.0, budget=budget)
    assert np.array_equal(first.motions.shift[order], second.motions.shift)
    assert np.array_equal(first.motions.turn[order], second.motions.turn)
    assert first.held_back == second.held_back > 0


def test_pins_and_limits_without_room_are_kept_too():
    bricks = posed("city", 1.0).bricks
    pins = np.random.default_rng(6).random(len(bricks)) < 0.05
    for limits, fixed in ((CARELESS, pins), (STIFF, None)):
        found = fit.fitted(bricks, limits, 4, 1.0, fixed, budget=1.0)
        assert found.cut == 0
        assert deepest_cut(bricks, found.motions)[0] <= DEEPEST
        assert widest_step(bricks, found.motions) <= max(limits.play_mm, MARGIN_MM) + DEEPEST
    assert not fit.fitted(bricks, CARELESS, 4, 1.0, pins, budget=1.0).motions.shift[pins].any()


def test_it_pays_sweeps_until_it_is_spent():
    budget = Budget(10.0)
    assert budget.granted(8, 1.0) == 8
    assert budget.granted(8, 0.25) == 8
    assert not budget.spent
    assert budget.granted(1, 0.5) == 0
    assert budget.spent
    assert (Budget(3.9).granted(8, 1.0), Budget(3.0).granted(8, 0.5), Budget().granted(8, 1.0)) == (3, 6, 8)


def test_a_spent_one_is_told_in_one_sentence():
    bricks, still = posed("city", 1.0).bricks, np.zeros(300, dtype=bool)
    dials = SimpleNamespace(seed=1, looseness=1.0, wear=1.0, quality="", rounding="")
    preset = SimpleNamespace(name="", fit=CARELESS)
    spent = summary.applied("", preset, dials, bricks, fitted("city", 1.0, 0.0), still, 0, ())
    assert spent.spent
    assert "the budget ran out" in spent.warning
    assert f"{spent.held_back} of 300 bricks held back" in spent.warning
    assert "no brick held back" in replace(spent, held_back=0).warning
    assert not summary.applied("", preset, dials, bricks, fitted("city", 1.0, None), still, 0, ()).warning
