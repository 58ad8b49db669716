"""What has no play moves with what holds it: judged by scipy's rotations and on the true bodies of odd builds."""

from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from addon.core.build.contacts import contacts
from addon.core.build.touching import LODGED
from addon.core.fit import fit, ties
from bench import builds as plain
from bench.odd import builds, judge


@cache
def court(name: str) -> judge.Court:
    return judge.Court(builds.build(name))


@cache
def fitted(name: str, seed: int = 1, looseness: float = 1.0) -> fit.Fitted:
    return fit.fitted(court(name).bricks, judge.LIMITS, seed, looseness)


def tied(name: str) -> ties.Ties:
    bricks, found = court(name).bricks, fitted(name).contacts
    return ties.Ties.of(bricks, found, np.ones(len(bricks), dtype=bool))


def relative(name: str, first: int, second: int) -> tuple[np.ndarray, np.ndarray]:
    """How the second has moved, shift and rotation vector, as seen from the first."""
    motions, centre = fitted(name).motions, court(name).bricks.centre
    turn = [Rotation.from_rotvec(motions.turn[n]) for n in (first, second)]
    arm = centre[second] - centre[first]
    way = turn[0].inv().apply(arm + motions.shift[second] - motions.shift[first]) - arm
    return way, (turn[0].inv() * turn[1]).as_rotvec()


@pytest.mark.parametrize("name", ["rails-tight", "arms-tight", "doors"])
@pytest.mark.parametrize("looseness", judge.LOOSENESS)
def test_no_body_cuts_and_the_check_says_so(name, looseness):
    for seed in court(name).build.seeds:
        found = court(name).verdict(seed, looseness)
        assert (found.cut <= judge.DEEPEST_MM, found.kept, found.calm) == (True, True, 0.0)


def test_what_is_pressed_in_goes_as_one_with_what_holds_it():
    root = tied("arms-tight").root
    carried = np.flatnonzero(root != np.arange(len(root)))
    assert len(carried) == 6
    for n in carried.tolist():
        way, turn = relative("arms-tight", int(root[n]), n)
        assert max(np.abs(way).max(), np.abs(turn).max()) < 1e-12
        assert np.abs(fitted("arms-tight").motions.shift[n]).max() > 1e-3


def test_fingers_without_a_gap_slide_across_their_axis_and_turn_about_it():
    found = tied("doors")
    assert len(found.on) == 4
    for (first, second), normal in zip(found.on.tolist(), found.normal, strict=True):
        way, turn = relative("doors", first, second)
        assert abs(way @ normal) < 1e-12
        assert np.abs(turn - (turn @ normal) * normal).max() < 1e-12
        assert abs(turn @ normal) > 1e-5
        assert np.linalg.norm(way) > 1e-3


def test_what_cannot_move_carries_what_it_holds():
    bricks = court("arms-tight").bricks
    pressed = contacts(bricks).of_kind(LODGED)
    inner = pressed.a[0]
    fixed = np.arange(len(bricks)) == inner
    motions = fit.fitted(bricks, judge.LIMITS, 1, 1.0, fixed).motions
    for n in (inner, pressed.b[0]):
        assert not motions.shift[n].any()
        assert not motions.turn[n].any()
    assert max(court("arms-tight").cuts(motions)[0].values(), default=0.0) <= judge.DEEPEST_MM


@pytest.mark.parametrize("kind", plain.KINDS)
def test_regular_builds_have_none(kind):
    bricks = plain.KINDS[kind](300)
    assert not ties.Ties.of(bricks, contacts(bricks), np.ones(len(bricks), dtype=bool))


@pytest.mark.parametrize("name", ["rails", "rails-tight", "masts", "linkage"])
def test_what_goes_through_an_opening_is_checked_on_the_true_surfaces(name):
    """Bricks thrown about at random: what the tool tells and what the true bodies do."""
    assert judge.off(court(name), 1) == pytest.approx(0.0, abs=judge.AGREED_MM)
