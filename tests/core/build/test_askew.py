"""Bricks at odd angles to each other keep apart, judged by python-fcl: distances at rest, cuts after the fit."""

from dataclasses import replace
from functools import cache

import fcl
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from addon.core import draws
from addon.core.build.bricks import Bricks
from addon.core.build.contacts import NEAR_MM, contacts
from addon.core.build.touching import CORNER
from addon.core.fit import fit, overlap
from addon.core.fit.motions import Motions
from bench import builds
from bench.interference import moved_boxes
from tests.core.fit.test_fit_guarantee import CARELESS, DEEPEST, deepest_cut

TIGHT = replace(CARELESS, clearance_mm=0.0)
STRAIGHT, SHORT = builds.brick(2, 4, 3), builds.brick(2, 2, 3)
TURNS = {  # of the second brick, in degrees about x, y and z
    "corner at a wall": (0.0, 0.0, 30.0),
    "a slight angle": (0.0, 0.0, 4.0),
    "leaning edge": (0.0, 25.0, 0.0),
    "corner in the air": (20.0, 35.0, 50.0),
}


def table(parts, part, turn, origin) -> Bricks:
    key = draws.mixed(np.arange(len(part), dtype=np.uint64))
    return Bricks((), parts, np.asarray(part), np.asarray(turn), np.asarray(origin, dtype=float), key)


def pairs(degrees: tuple[float, float, float], gap: float, count: int = 40) -> Bricks:
    """Straight bricks far from each other, each with one beside it that is turned and comes as near as `gap`."""
    turn = Rotation.from_euler("xyz", degrees, degrees=True).as_matrix()
    reach = STRAIGHT.body_high[0] + (np.abs(turn) @ SHORT.body_high)[0] + gap
    place = 100.0 * np.stack([*np.divmod(np.arange(count), 8), np.zeros(count)], axis=1)
    origin = np.stack([place, place + np.array([reach, 0.0, 0.0])], axis=1).reshape(-1, 3)
    return table((STRAIGHT, SHORT), np.tile([0, 1], count), np.tile([np.eye(3), turn], (count, 1, 1)), origin)


def boxes(bricks: Bricks) -> list[fcl.CollisionObject]:
    still = Motions.packed(np.zeros((len(bricks), 6)), np.ones((len(bricks), 3)))
    _, centre, axes, half = moved_boxes(bricks, still)
    return [
        fcl.CollisionObject(fcl.Box(*(2 * h)), fcl.Transform(r, c)) for h, r, c in zip(half, axes, centre, strict=True)
    ]


@cache
def heap(upright: bool, count: int = 120) -> Bricks:
    """Bricks at all angles, thrown one after another to where they come within 0.3 mm of one that lies there."""
    rng = np.random.default_rng(9)
    part, turn, origin = [0], [np.eye(3)], [np.zeros(3)]
    lying = boxes(table((STRAIGHT, SHORT), part, turn, origin))
    while len(part) < count:
        spin = (
            Rotation.from_euler("z", rng.uniform(0, 360), degrees=True)
            if upright
            else Rotation.random(random_state=rng)
        )
        way = rng.normal(size=3) * (1.0, 1.0, 0.0 if upright else 1.0)
        way /= np.linalg.norm(way)
        kind, about = int(rng.integers(2)), origin[rng.integers(len(origin))]
        thrown = boxes(table((STRAIGHT, SHORT), [kind], [spin.as_matrix()], [np.zeros(3)]))[0]
        near, far = 0.0, 60.0  # from the middle of one that lies there
        for _ in range(40):
            at = 0.5 * (near + far)
            thrown.setTranslation(about + at * way)
            apart = min(fcl.distance(thrown, other) for other in lying)
            near, far = (at, far) if apart <= 0.05 else (near, at)
        thrown.setTranslation(about + far * way)
        if 0.0 < min(fcl.distance(thrown, other) for other in lying) < 0.3:
            lying.append(thrown)
            part, turn, origin = [*part, kind], [*turn, spin.as_matrix()], [*origin, about + far * way]
    return table((STRAIGHT, SHORT), part, turn, origin)


BUILDS = {
    **{
        f"{name}, {gap} mm": (lambda turn=turn, gap=gap: pairs(turn, gap))
        for name, turn in TURNS.items()
        for gap in (0.0, 0.02, 0.2)
    },
    "heap of upright bricks": lambda: heap(True),
    "heap": lambda: heap(False),
}


@pytest.mark.parametrize("name", TURNS)
def test_the_gap_at_rest_is_the_distance(name):
    bricks = pairs(TURNS[name], 0.3, count=1)
    found = contacts(bricks)
    assert found.kind.tolist() == [CORNER]
    assert found.gap[0] == pytest.approx(fcl.distance(*boxes(bricks)), abs=1e-6)
    assert found.gap[0] == pytest.approx(0.3)


@pytest.mark.parametrize("upright", [True, False])
def test_every_two_bricks_that_come_near_are_seen(upright):
    bricks = heap(upright)
    bodies, found = boxes(bricks), contacts(bricks)
    seen = {frozenset(each) for each in zip(found.a.tolist(), found.b.tolist(), strict=True)}
    near = [
        (first, second)
        for first in range(len(bricks))
        for second in range(first)
        if fcl.distance(bodies[first], bodies[second]) < 0.9 * NEAR_MM
    ]
    assert len(near) >= len(bricks) - 1
    assert {frozenset(each) for each in near} <= seen


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("name", BUILDS)
def test_no_body_cuts_into_another(name, looseness):
    bricks = BUILDS[name]()
    found = fit.fitted(bricks, TIGHT, 4, looseness)
    assert found.cut == 0
    assert deepest_cut(bricks, found.motions)[0] <= DEEPEST
    assert (found.motions.shift != 0.0).any(axis=1).all()


@pytest.mark.parametrize("name", ["corner at a wall, 0.02 mm", "heap"])
def test_left_to_what_they_want_they_would_cut(name):
    bricks = BUILDS[name]()
    alone = replace(bricks, origin=bricks.origin * 40.0)  # too far from each other to meet
    wanted = fit.fitted(alone, TIGHT, 4, 1.0).motions
    assert deepest_cut(bricks, wanted)[0] > 0.02


def test_the_check_sees_a_cut_between_them():
    bricks = pairs(TURNS["corner at a wall"], 0.02, count=1)
    found = fit.fitted(bricks, TIGHT, 4, 1.0)
    sunk = np.array([[0.0, 0.0, 0.0], [-0.07, 0.0, 0.0]])
    motions = Motions(sunk, np.zeros((2, 3)), found.motions.shrink)
    assert overlap.largest_interference(bricks, found.contacts, motions) == pytest.approx(0.05)
    assert deepest_cut(bricks, motions)[0] == pytest.approx(0.05, abs=1e-6)


@pytest.mark.parametrize("upright", [True, False])
def test_the_order_of_the_table_does_not_matter(upright):
    bricks = heap(upright)
    order = np.random.default_rng(4).permutation(len(bricks))
    first = fit.fitted(bricks, TIGHT, 1, 2.0).motions
    second = fit.fitted(builds.only(bricks, order), TIGHT, 1, 2.0).motions
    assert np.array_equal(first.shift[order], second.shift)
    assert np.array_equal(first.turn[order], second.turn)
