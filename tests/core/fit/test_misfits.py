"""Builds that leave no way: what is said of them holds all the same, costs little, and stays where it is.

Depths are those of Minkowski differences (`bench.odd.hulls`), which know nothing of the tool; work is counted in sweeps
over all contacts and not timed.
"""

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from addon.core import draws, rigid
from addon.core.build.bricks import Bricks
from addon.core.build.contacts import contacts
from addon.core.fit import clearance, fit, overlap, summary, targets
from addon.core.fit.budget import Budget
from addon.core.fit.problem import Problem
from addon.core.fit.repair import Repair
from addon.core.report import Applied
from bench import builds
from bench.odd.hulls import Hull, depth
from tests.core.fit.test_fit_guarantee import CARELESS, STIFF

DEEPEST = 1e-6  # mm; the judge's own accuracy
ENOUGH = 250  # sweeps over all contacts, all attempts together
CORNERS = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])


def doubled(kind: str, way: tuple[float, float, float], count: int = 60) -> Bricks:
    """A build some of whose bricks are there once more, a little away: as good as in one place."""
    bricks = builds.KINDS[kind](count)
    twice = np.random.default_rng(2).choice(count, 4, replace=False)
    both = builds.only(bricks, np.append(np.arange(count), twice))
    origin = both.origin.copy()
    origin[count:] += way
    return replace(both, origin=origin, key=np.append(bricks.key, draws.mixed(both.key[count:])))


def too_high(kind: str, by: float, count: int = 40) -> Bricks:
    """A build five of whose bricks are higher than there is room for, by so many mm."""
    bricks, up = builds.KINDS[kind](count), np.array([0.0, 0.0, 0.5 * by])
    parts, part = list(bricks.parts), bricks.part.copy()
    for n in np.random.default_rng(1).choice(count, 5, replace=False):
        own = parts[part[n]]
        low, high = own.body_low - up, own.body_high + up
        parts.append(replace(own, vertices=np.array([low, high]), body_low=low, body_high=high, studs=own.studs + up,
                             boxes=np.array([[low, high]])))  # fmt: skip
        part[n] = len(parts) - 1
    return replace(bricks, parts=tuple(parts), part=part)


BUILDS = {
    "tower, too high": lambda: too_high("tower", 0.1),
    "block, too high": lambda: too_high("block", 0.1),
    "tower, in one place": lambda: doubled("tower", (0.01, -0.02, 0.03)),
    "block, in one place": lambda: doubled("block", (0.01, -0.02, 0.03)),
    "wall, in one place": lambda: doubled("wall", (0.0, 0.0, 0.0)),
    "wall, a plate up": lambda: doubled("wall", (0.0, 0.0, 3.2)),
    "stack, a plate up": lambda: doubled("stack", (0.0, 0.0, 3.2)),
    "city, half a stud on": lambda: doubled("city", (4.0, 0.0, 0.0)),
}


@cache
def build(name: str) -> Bricks:
    return BUILDS[name]()


def deepest(bricks: Bricks, motions) -> float:
    """How much deeper (mm) any two bodies lie in each other than at rest."""
    rotation = rigid.rotation(motions.turn)
    rest = [Hull.around(c + CORNERS * h) for c, h in zip(bricks.centre, bricks.half * motions.shrink, strict=True)]
    now = [
        Hull.around(c + s + (body.vertices - c) @ turn.T)
        for body, c, s, turn in zip(rest, bricks.centre, motions.shift, rotation, strict=True)
    ]
    apart = np.abs(bricks.centre[:, None] - bricks.centre) - bricks.half[:, None] - bricks.half
    near = np.argwhere(np.triu((apart < 0.3).all(axis=2), 1))
    return max(depth(now[i], now[j]) - max(depth(rest[i], rest[j]), 0.0) for i, j in near.tolist())


@pytest.mark.shared_out
@pytest.mark.parametrize("looseness", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("name", BUILDS)
def test_nothing_cuts_deeper_than_in_the_export_and_few_go_calm(name, looseness, monkeypatch):
    worked, granted = [], Budget.granted
    monkeypatch.setattr(Budget, "granted", lambda *told: worked.append(told[1] * told[2]) or granted(*told))
    bricks = build(name)
    found = fit.fitted(bricks, builds.LIMITS, 1, looseness)
    assert found.cut == 0
    assert deepest(bricks, found.motions) <= DEEPEST
    assert overlap.largest_interference(bricks, found.contacts, found.motions) <= DEEPEST
    assert sum(worked) <= ENOUGH
    assert ((found.share < 1.0).sum(), found.held_back) == (0, 0)


def applied(bricks: Bricks, found: fit.Fitted) -> Applied:
    dials = SimpleNamespace(seed=1, looseness=1.0, wear=1.0, quality="", rounding="")
    preset, still = SimpleNamespace(name="", fit=builds.LIMITS), np.zeros(len(bricks), dtype=bool)
    return summary.applied("", preset, dials, bricks, found, still, 0, ())


def moves_with(bricks: Bricks, motions, i: int, j: int) -> bool:
    """Whether two bricks move as one rigid body does, by scipy's rotations."""
    arm = bricks.centre[j] - bricks.centre[i]
    carried = motions.shift[i] + Rotation.from_rotvec(motions.turn[i]).apply(arm) - arm
    return bool((motions.turn[i] == motions.turn[j]).all() and np.abs(motions.shift[j] - carried).max() < 1e-9)


@pytest.mark.parametrize("name", ["block, in one place", "stack, a plate up"])
def test_bricks_that_go_as_one_are_told(name):
    """In one sentence, and all of them."""
    bricks = build(name)
    found = fit.fitted(bricks, builds.LIMITS, 1, 1.0)
    told, number = applied(bricks, found), range(len(bricks))
    as_one = {n for i in number for j in range(i) if moves_with(bricks, found.motions, i, j) for n in (i, j)}
    assert told.as_one == len(as_one) > 1
    assert f"{told.as_one} bricks move as one with a neighbour, the limits leave them no play" in told.warning
    assert not applied(bricks, replace(found, as_one=0)).warning


def test_limits_that_hold_nowhere_take_no_more_work_either(monkeypatch):
    worked, granted = [], Budget.granted
    monkeypatch.setattr(Budget, "granted", lambda *told: worked.append(told[1] * told[2]) or granted(*told))
    found = fit.fitted(builds.block(60), STIFF, 4, 1.0)
    assert found.cut == 0
    assert found.as_one > 0.9 * 60
    assert sum(worked) <= ENOUGH


def side_by_side(first: Bricks, second: Bricks) -> Bricks:
    """Two builds 400 mm apart."""
    origin = np.concatenate([first.origin, second.origin + np.array([400.0, 0.0, 0.0])])
    part = np.concatenate([first.part, second.part + len(first.parts)])
    key = np.concatenate([first.key, draws.mixed(second.key)])
    return Bricks((), first.parts + second.parts, part, np.concatenate([first.turn, second.turn]), origin, key)


def test_what_hangs_together_elsewhere_keeps_its_lean():
    """A lean that no joint has room for, and no solve left: what stands apart from there leans as it did."""
    bricks, near = side_by_side(builds.tower(40), builds.stack(30)), 40
    shrink = clearance.shrinkage(bricks, builds.LIMITS.clearance_mm)
    touching = contacts(bricks, shrink)
    goal = targets.targets(bricks, touching, builds.LIMITS, 4, 1.0, np.zeros(len(bricks), dtype=bool))
    lean = goal.lean.copy()
    lean[:near, 0] = np.resize([0.3, -0.3], near)
    problem = Problem.of(bricks, touching, replace(goal, lean=lean), shrink, builds.LIMITS, 1.0)
    sits = fit.fitted(bricks, builds.LIMITS, 4, 1.0).motions
    before = np.hstack([sits.shift, sits.turn])
    before[:near] = lean[:near]
    found, held_back = fit.kept(Repair(problem, Budget(0.0)), before)
    assert not len(found.wrong)
    assert not found.motions[:near].any()
    assert (found.motions[near:] == before[near:]).all()
    assert held_back.tolist() == [True] * near + [False] * 30


@pytest.mark.shared_out
@pytest.mark.parametrize("seed", range(12))
def test_a_few_pins_high_up_leave_all_others_what_they_want(seed):
    rng = np.random.default_rng(seed)
    bricks = builds.city(400, seed % 7, based=True)
    pins = (rng.random(len(bricks)) < 0.01) & (bricks.low[:, 2] > 0.4 * bricks.low[:, 2].max())
    found = fit.fitted(bricks, CARELESS, seed, 1.0 + 0.5 * (seed % 3), pins)
    assert (found.cut, found.held_back, found.share.min()) == (0, 0, 1.0)
    assert not found.motions.shift[pins].any()
    assert deepest(bricks, found.motions) <= DEEPEST
