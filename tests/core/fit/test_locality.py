"""A changed brick changes its neighbourhood alone: what is promised for sure, and what is measured."""

from functools import cache

import numpy as np
import pytest

from addon.core.build.bricks import Bricks
from addon.core.fit import fit
from bench import builds
from bench.locality import difference, hops

COUNT = 3000
CHANGED = (750, 1500, 2250)  # numbers of bricks: high up, in the middle, low


@cache
def build(kind: str) -> Bricks:
    return builds.KINDS[kind](COUNT)


@cache
def whole(kind: str, looseness: float) -> fit.Fitted:
    return fit.fitted(build(kind), builds.LIMITS, 1, looseness)


def without(kind: str, brick: int, looseness: float) -> tuple[np.ndarray, fit.Fitted]:
    """The bricks that are left, and their fit."""
    left = np.delete(np.arange(COUNT), brick)
    return left, fit.fitted(builds.only(build(kind), left), builds.LIMITS, 1, looseness)


@pytest.mark.parametrize("looseness", [1.0, 2.0])
def test_what_nothing_leads_to_stays_bit_for_bit(looseness):
    # No chain of contacts, no change: other buildings of a city.
    for brick in CHANGED:
        left, after = without("city", brick, looseness)
        apart = hops(whole("city", looseness), brick)[left] < 0
        assert apart.sum() > COUNT / 2
        assert not difference(whole("city", looseness).motions, left, after.motions)[apart].any()


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("kind", ["city", "block"])
def test_a_build_at_an_angle_far_away_changes_nothing(kind, looseness):
    alone = builds.KINDS[kind](300)
    here = fit.fitted(alone, builds.LIMITS, 1, looseness).motions
    both = fit.fitted(builds.with_another_at_an_angle(alone), builds.LIMITS, 1, looseness).motions
    assert not difference(both, np.arange(len(alone)), here).any()


@pytest.mark.parametrize(("kind", "looseness", "share"), [("city", 1.0, 0.95), ("wall", 1.0, 0.9), ("city", 2.0, 0.8)])
def test_most_of_the_build_stays_bit_for_bit(kind, looseness, share):
    for brick in CHANGED:
        left, after = without(kind, brick, looseness)
        assert (difference(whole(kind, looseness).motions, left, after.motions) == 0.0).mean() > share


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("kind", ["city", "block", "wall"])
def test_a_change_fades_with_every_joint(kind, looseness):
    # 1 µm beyond six contacts (ten where twice the looseness leaves much to repair), a tenth of that beyond ten.
    reach = 6 if looseness <= 1.0 else 10
    close = 0.0
    for brick in CHANGED:
        left, after = without(kind, brick, looseness)
        hop = hops(whole(kind, looseness), brick)[left]
        changed = difference(whole(kind, looseness).motions, left, after.motions)
        close = max(close, changed[hop <= 2].max())
        assert changed[hop > reach].max(initial=0.0) < 1e-3
        assert changed[hop > 10].max(initial=0.0) < 1e-4
    assert close > 1e-3


def test_adding_a_brick_undoes_removing_it():
    left, _ = without("city", 1500, 1.0)
    again = builds.only(build("city"), np.append(left, 1500))
    order = np.append(left, 1500)
    assert not difference(whole("city", 1.0).motions, order, fit.fitted(again, builds.LIMITS, 1, 1.0).motions).any()


def test_a_moved_brick_changes_where_it_was_and_where_it_is():
    bricks = build("city")
    top = int(bricks.high[:, 2].argmax())
    moved = builds.only(bricks, np.arange(COUNT))
    moved.origin[top] += [0.0, 0.0, 32.0]  # off its studs: nothing holds it there
    after = fit.fitted(moved, builds.LIMITS, 1, 1.0)
    others = np.arange(COUNT) != top
    changed = difference(whole("city", 1.0).motions, np.arange(COUNT), after.motions)
    hop = hops(whole("city", 1.0), top)
    assert not changed[others & (hop < 0)].any()
    assert (changed[others] == 0.0).mean() > 0.95
