"""Wear that grows within a shot: its value at a frame, and keys that say the same."""

from bisect import bisect_right
from fractions import Fraction
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core.errors import ShotProblem
from addon.core.shots import shot
from addon.core.shots.growth import Growth
from addon.core.shots.shot import Shot, ShotDials

AMOUNTS = st.floats(0.0, 2.0)
FRAMES = st.integers(-1000, 1000)


def value(growth: Growth, frame: float) -> float:
    """The straight line through two points, in exact fractions."""
    share = Fraction(frame) - growth.first
    share = (
        min(max(share / (growth.last - growth.first), Fraction(0)), Fraction(1)) if growth.last > growth.first else 0
    )
    start, end = Fraction(growth.start), Fraction(growth.end)
    return float(start + share * (end - start))


def played(growth: Growth, cut: float, until: float, frame: float) -> float:
    """What keys say at a frame as animation curves are read: held, or a straight line to the next."""
    times, runs = growth.keys(cut, until)
    assert times == sorted(set(times))
    assert not runs[-1]
    values = growth.at(times)
    now = max(bisect_right(times, frame) - 1, 0)
    if not runs[now]:
        return values[now]
    share = (frame - times[now]) / (times[now + 1] - times[now])
    return values[now] + share * (values[now + 1] - values[now])


@given(AMOUNTS, AMOUNTS, FRAMES, st.integers(0, 500), st.floats(-2000.0, 2000.0))
def test_it_is_a_straight_line_between_the_first_frame_and_the_last(start, end, first, length, frame):
    growth = Growth(start, end, first, first + length)
    assert growth.at(frame) == pytest.approx(value(growth, frame), abs=1e-9)
    assert (growth.at(first), growth.at(first - 1)) == (start, start)
    assert growth.at(first + length + 1) == (end if length else start)


@given(AMOUNTS, AMOUNTS, FRAMES, st.integers(0, 200), st.sampled_from([-0.99, -0.5, -0.01, 0.5, 2.0]), st.data())
def test_keys_say_the_same_on_every_frame_until_another_shot_takes_over(start, end, first, length, before, data):
    growth, cut = Growth(start, end, first, first + length), first + before
    until = data.draw(st.sampled_from([inf, first + length + 0.5, first + 3.5, first + 1.5]))
    shown = range(int(cut) + 1, min(int(until) if until != inf else inf, first + length + 20) + 1)
    for frame in (each for each in shown if cut <= each < until):
        assert played(growth, cut, until, frame) == pytest.approx(value(growth, frame), abs=1e-9)


def test_what_stays_has_one_key():
    assert Growth(0.7, 0.7, 1, 50).keys(0.5) == ([0.5], [False])
    assert Growth(0.7, 1.2, 5, 5).keys(4.5) == ([4.5], [False])
    assert Growth(0.7, 1.2, 5, 9).keys(4.5, 9.5) == ([4.5, 5, 9], [False, True, False])


def test_a_shot_s_growth_is_of_the_build_s_wear_and_ends_at_the_most():
    grows = Shot("a", "c", 1, 9, dials=ShotDials(wear=0.5, wear_last=2.0))
    assert grows.growth(0.8) == Growth(0.4, 1.6, 1, 9)
    assert grows.growth(1.5) == Growth(0.75, 2.0, 1, 9)
    assert Shot("a", "c", 1, 9, dials=ShotDials(wear=0.5)).growth(0.8) == Growth(0.4, 0.4, 1, 9)
    assert grows.dials.words() == ("wear 0.5 to 2",)
    assert ShotDials(wear_last=0.0, dust=0.5, seed=3).words() == ("wear 1 to 0", "dust 0.5", "seed + 3")
    assert ShotDials(wear_last=1.0) != ShotDials()


@pytest.mark.parametrize("wrong", [-0.1, 2.1, float("nan"), float("inf"), True, "much"])
def test_only_an_amount_can_be_grown_to(wrong):
    with pytest.raises(ShotProblem, match="wear at the last frame"):
        shot.grown(Shot("a", "c", 1, 9), wrong)


def test_a_locked_shot_does_not_grow():
    with pytest.raises(ShotProblem, match="locked"):
        shot.grown(Shot("a", "c", 1, 9, locked=True), 1.5)
    assert shot.grown(shot.grown(Shot("a", "c", 1, 9), 1.5), None) == Shot("a", "c", 1, 9)
