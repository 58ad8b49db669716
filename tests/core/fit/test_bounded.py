"""Builds that do not fit take little work all the same, cut nowhere, and keep nearly all of their motion.

Work is counted in sweeps and solves and not timed; depths of plain bricks are those of Minkowski differences
(`bench.odd.hulls`), which know nothing of the tool, those of hinges the tool's own measure over all bodies.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from addon.core import remembered
from addon.core.build.bricks import Bricks
from addon.core.fit import clearance, fit, overlap, targets
from addon.core.fit.budget import Budget
from addon.core.fit.problem import Problem
from addon.core.fit.repair import Repair
from bench import builds, misfits

DEEPEST = 1e-6  # mm; the judge's own accuracy
SWEEPS, SOLVES = 130, 11  # of the first solve and all attempts after it; each sweep goes over a part of the contacts
DIALS = (("fresh", 0.5), ("well-loved", 1.0), ("toy-box", 2.0))
BUILDS = (
    ("tower, +0.1 high", 40), ("tower, -0.1 high", 40), ("stack, -0.1 high", 60), ("block, +0.3 high", 60),
    ("wall, +0.1 wide", 80), ("tower, one taller", 40), ("city, one wider", 100), ("wall, two in one", 60),
    ("block, ten in one", 60), ("block, fifty in one", 150), ("city, a third typed", 100),
    ("tower, course aside", 60), ("city, course up", 100), ("block, 1% larger", 80),
    ("wall, 5% anything", 200), ("block, pressed 0.5%", 80), ("block, pressed 5%", 60),
)  # fmt: skip


@cache
def build(name: str, count: int) -> Bricks:
    return misfits.BUILDS[name](count)


@pytest.mark.shared_out
@pytest.mark.parametrize(("name", "count"), BUILDS)
def test_what_does_not_fit_takes_little_work_and_cuts_nowhere(name, count):
    for preset, looseness in DIALS:
        found = misfits.cost(build(name, count), misfits.limits(preset), looseness, judged=True)
        assert found.cut <= DEEPEST
        assert (found.left, found.calm) == (0, 0)
        assert found.sweeps <= SWEEPS
        assert found.solves <= SOLVES


@pytest.mark.parametrize("name", ["hinges", "hinge on hinge"])
def test_fingers_without_any_gap_take_little_work_and_cut_nowhere(name):
    for preset, looseness in DIALS:
        found = misfits.cost(build(name, 100), misfits.limits(preset), looseness, judged=False)
        assert found.cut <= DEEPEST
        assert (found.left, found.calm) == (0, 0)
        assert found.sweeps <= SWEEPS


def test_what_slides_along_a_brick_that_is_solved_again_is_checked_too():
    """A seed that once left a hundredth of a micrometre, since what went along was not looked at."""
    bricks = build("hinge on hinge", 200)
    found = fit.fitted(bricks, misfits.limits("well-loved"), 2, 1.0)
    assert overlap.largest_interference(bricks, found.contacts, found.motions) <= DEEPEST


@pytest.mark.parametrize(("count", "seed"), [(8, 2), (20, 1)])
def test_without_any_solve_what_slides_along_others_goes_back_too(count, seed):
    """Seeds that once left contacts beyond their limits: what others carried was at rest, and these were not."""
    bricks, limits = build("hinge on hinge", count), misfits.limits("toy-box")
    shrink, touching, place = clearance.met(bricks, limits.clearance_mm)
    goal = targets.targets(bricks, touching, limits, seed, 2.0, np.zeros(len(bricks), dtype=bool), place)
    problem = Problem.of(bricks, touching, goal, shrink, limits, 2.0, place)
    found, _ = fit.kept(Repair(problem, Budget(0.0)), problem.kept(goal.wanted))
    assert not len(found.wrong)


@pytest.mark.parametrize("name", ["tower, -0.1 high", "wall, 5% anything", "block, 1% larger"])
def test_nearly_all_of_the_motion_is_left(name):
    """Half of the bricks go as far as in the same build without misfits."""
    kind, _, _ = name.partition(",")
    gone = []
    for each in (name, f"{kind}, as exported"):
        motions = fit.fitted(build(each, 200), misfits.limits("well-loved"), 1, 1.0).motions
        gone.append(np.median(np.linalg.norm(motions.shift[:200], axis=1)))
    assert gone[0] > 0.7 * gone[1] > 0.0


def test_bricks_in_a_heap_stay_and_are_counted():
    bricks = build("city, a third typed", 100)
    found = fit.fitted(bricks, misfits.limits("well-loved"), 1, 1.0)
    heap = (bricks.origin == (1e6, 0.0, 0.0)).all(axis=1)
    assert found.heaped == heap.sum() == 30
    assert not found.motions.shift[heap].any()
    assert found.motions.shift[~heap].any(axis=1).mean() > 0.8


def test_joints_that_hold_like_glue_are_solved_at_once():
    limits = replace(builds.LIMITS, play_mm=0.0, lift_mm=0.0)
    found = misfits.cost(builds.block(200), limits, 1.0, judged=True)
    assert (found.solves, found.as_one, found.left) == (1, 200, 0)
    assert found.cut <= DEEPEST


def test_what_held_like_glue_is_not_remembered_for_other_limits():
    bricks, glued = builds.block(100), replace(builds.LIMITS, play_mm=0.0, lift_mm=0.0)
    alone = fit.fitted(bricks, builds.LIMITS, 1, 1.0).motions.shift
    remembered.forget()
    fit.fitted(bricks, glued, 1, 1.0)
    assert (fit.fitted(bricks, builds.LIMITS, 1, 1.0).motions.shift == alone).all()


@pytest.mark.parametrize("name", ["block", "city"])
def test_a_misfit_is_felt_near_by_alone(name):
    """A brick too high: nothing far from it goes another way by more than a micrometre, and nearly nothing at all."""
    sound = build(f"{name}, as exported", 300)
    top = int(np.argmax(sound.high[:, 2] + 1e-3 * sound.centre[:, 0]))
    spoiled = misfits.grown(sound, np.array([top]), (0.0, 0.0, 0.1))
    one, other = (fit.fitted(each, misfits.limits("well-loved"), 1, 1.0).motions for each in (sound, spoiled))
    far = np.linalg.norm(sound.centre - sound.centre[top], axis=1) > 100.0
    changed = np.abs(one.shift - other.shift)[far]
    assert changed.max() < 1e-3
    assert (changed > 0.0).any(axis=1).mean() < 0.2
