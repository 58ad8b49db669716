"""The fit's solver against Clarabel, OSQP and PIQP on the same programme, written out independently as matrices."""

import hashlib
import os
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import isotonic_regression

from addon.core import rigid
from addon.core.build import contacts
from addon.core.fit import attempts, fit, rows, solver
from bench import builds, programme

CHECKOUT = Path(__file__).resolve().parents[3]
CASES = [
    ("city", 100, 1.0),
    ("block", 100, 1.0),
    ("city", 1000, 1.0),
    ("city", 1000, 2.0),
    ("block", 1000, 1.0),
    ("block", 1000, 2.0),
]
ENOUGH = 200  # sweeps until float32 says no more

# Equal for numpy 1.26 on Python 3.11 and numpy 2.4 on Python 3.13. A freeze of our own output and not an outside
# check: it changes whenever the method does, and never otherwise.
FROZEN = {"city": "fa66ade0e694c9aa", "block": "22321127299c9a8a"}


@cache
def posed(kind: str, count: int, looseness: float, kinds: tuple[int, ...] = programme.SEATS) -> programme.Posed:
    return programme.posed(builds.KINDS[kind](count), builds.LIMITS, 1, looseness, kinds)


@cache
def solved(kind: str, count: int, looseness: float, sweeps: int) -> np.ndarray:
    problem = posed(kind, count, looseness)
    return problem.packed(problem.ours(sweeps))


def digest(kind: str, count: int = 600, looseness: float = 1.5) -> str:
    motions = fit.fitted(builds.KINDS[kind](count), builds.LIMITS, 5, looseness).motions
    return hashlib.sha256(
        b"".join(each.tobytes() for each in (motions.shift, motions.turn, motions.shrink))
    ).hexdigest()[:16]


@pytest.mark.parametrize("kind", ["city", "block"])
def test_rows_are_the_ways_of_points(kind):
    # Independent: each row as the way of a corner or an outermost stud under two rigid motions.
    problem = posed(kind, 1000, 1.0, kinds=programme.ALL)
    motions = np.random.default_rng(2).normal(size=(1000, 6)) * 0.1
    of_a, of_b = problem.dense_rows
    t = problem.touching
    expected = (of_a * motions[t.a][:, None]).sum(-1) + (of_b * motions[t.b][:, None]).sum(-1)
    found = np.empty_like(expected)
    found[problem.own.order] = rows.values(problem.own, motions).T
    for group in (slice(0, 4), slice(4, 6), slice(6, 8)):  # within a group, in any order
        assert np.sort(found[:, group], axis=1) == pytest.approx(np.sort(expected[:, group], axis=1), abs=1e-5)


@pytest.mark.shared_out
@pytest.mark.parametrize("oracle", programme.ORACLES)
@pytest.mark.parametrize("case", CASES)
def test_as_close_to_the_targets_as_other_solvers(case, oracle):
    pytest.importorskip(oracle.lower())
    same = posed(*case).programme
    theirs, ours = programme.ORACLES[oracle](same), solved(*case, ENOUGH)
    assert same.violation(theirs) < 1e-6
    assert same.violation(ours) < 2e-5  # of 5e-4 mm that all limits are drawn tighter by
    assert same.objective(ours) == pytest.approx(same.objective(theirs), rel=1e-5)
    # The programme is strictly convex: one answer.
    assert np.abs(ours - theirs).max() < 2e-4


@pytest.mark.parametrize("case", CASES)
def test_the_sweeps_of_a_fit_are_enough(case):
    # 0.1 % of the objective (0.2 where hardly a limit binds and there is little of it), 1 % at twice the looseness;
    # beyond a limit no more than the margin that joints keep of it, and three and a half times that at twice
    # the looseness, which is for the repair: what stands on one brick alone goes on from it, so that a push travels.
    same, (share, beyond) = posed(*case).programme, (2e-3, 2e-3) if case[2] <= 1.0 else (1e-2, 7e-3)
    assert same.objective(solved(*case, attempts.SWEEPS)) == pytest.approx(
        same.objective(solved(*case, ENOUGH)), rel=share
    )
    assert same.violation(solved(*case, attempts.SWEEPS)) < beyond


@pytest.mark.parametrize("kind", ["city", "block"])
def test_the_condition_of_optimality(kind):
    # Karush, Kuhn, Tucker: x - wanted is a sum of inward gradients of touched rows (Boyd, Vandenberghe, 5.5.3).
    same = posed(kind, 100, 1.0).programme
    pushes, unexplained = same.certificate(solved(kind, 100, 1.0, ENOUGH), near=1e-5)
    assert len(pushes) > 100
    assert unexplained < 1e-3
    _, far_from_it = same.certificate(posed(kind, 100, 1.0).packed(posed(kind, 100, 1.0).clamped()), near=1e-5)
    assert far_from_it > 0.1  # so the condition can fail


def test_side_and_corner_rows_too():
    problem = posed("block", 100, 2.0, kinds=programme.ALL)
    same = problem.programme
    ours = problem.packed(problem.ours(2 * ENOUGH))
    theirs = programme.piqp(same)
    assert same.violation(ours) < 2e-5
    assert same.objective(ours) == pytest.approx(same.objective(theirs), rel=1e-4)


@pytest.mark.parametrize(
    "wanted", [np.array([0.0, 0.05, -0.02, 0.10]), np.random.default_rng(3).normal(size=30) * 0.05]
)
def test_a_row_of_blocks_is_isotonic_regression(wanted):
    # scipy.optimize.isotonic_regression: blocks that touch and may not pass one another, on a line.
    count = len(wanted)
    first = np.arange(count - 1)
    x_first = np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]])  # the normal is x
    centre = np.column_stack([10.0 * np.arange(count), np.zeros(count), np.zeros(count)])
    bounds = np.full((count - 1, 3), np.inf)
    low = -bounds
    low[:, 0] = 0.0
    middle = 0.5 * (centre[:-1] + centre[1:])
    none, nought = np.zeros(count - 1, dtype=int), np.zeros((count - 1, 2))
    touching = contacts.Contacts(first, first + 1, first, first + 1, none, none, middle, nought + 1.0, nought[:, 0],
                                 none, nought, nought, x_first[None])  # fmt: skip
    mobility = np.stack([np.ones(count), np.zeros(count)])
    chain = rows.rows(touching, first, centre, mobility, first % 2).limited(low, bounds)
    target = np.zeros((count, 6))
    target[:, 0] = wanted
    free = np.full((count, 6), 10.0)
    found = solver.closest(target, -free, free, np.stack([np.ones(count), np.zeros(count)]), chain, 600).motions
    assert found[:, 0] == pytest.approx(isotonic_regression(wanted).x, abs=2e-6)
    assert not found[:, 1:].any()


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("kind", list(builds.KINDS))
def test_closer_than_half_of_every_limit(kind, looseness):
    # The same limits kept without a solver, each brick within its half: any solver must come closer.
    problem = posed(kind, 300, looseness)
    same, clamped = problem.programme, problem.packed(problem.clamped())
    found = fit.fitted(problem.bricks, builds.LIMITS, 1, looseness).motions
    fitted = problem.packed(np.hstack([found.shift, found.turn]))
    assert same.objective(fitted) < 0.7 * same.objective(clamped)


@pytest.mark.parametrize("angle", [0.0, 0.3])
@pytest.mark.parametrize("kind", ["city", "block"])
def test_the_order_of_the_table_does_not_matter(kind, angle):
    bricks = builds.KINDS[kind](600)
    about = rigid.rotation(np.array([0.0, 0.0, angle]))[None]
    bricks = replace(bricks, turn=rigid.product(about, bricks.turn), origin=rigid.turned(about, bricks.origin))
    order = np.random.default_rng(4).permutation(len(bricks))
    first = fit.fitted(bricks, builds.LIMITS, 1, 2.0)
    second = fit.fitted(builds.only(bricks, order), builds.LIMITS, 1, 2.0)
    assert first.repaired > 0 or angle or kind == "city"  # the repair is part of what is compared
    assert np.array_equal(first.motions.shift[order], second.motions.shift)
    assert np.array_equal(first.motions.turn[order], second.motions.turn)


@pytest.mark.parametrize("kind", FROZEN)
def test_the_same_bits_every_time_and_everywhere(kind):
    assert digest(kind) == digest(kind) == FROZEN[kind]


def test_the_same_bits_with_any_number_of_threads():
    script = "from tests.core.fit.test_solver import digest; print(digest('block'))"
    for threads in ("1", "2"):
        names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
        there = dict(os.environ, PYTHONPATH=str(CHECKOUT), **dict.fromkeys(names, threads))
        found = subprocess.run(
            [sys.executable, "-c", script], cwd=CHECKOUT, env=there, capture_output=True, text=True, check=True
        )
        assert found.stdout.strip() == FROZEN["block"]
