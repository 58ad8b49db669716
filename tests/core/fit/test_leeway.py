"""More looseness is more motion, up to what a build takes; where the dial runs dry is told."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from addon.core import remembered
from addon.core.fit import clearance, fit, leeway, problem
from addon.core.fit.motions import Motions
from bench import builds
from bench.stackup import shipped

DIAL = (0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0)
TIGHT = 0.02  # mm of clearance: hardly a seam


def named(kind: str, count: int):
    bricks = builds.KINDS[kind](count)
    return replace(bricks, names=tuple(map(str, range(len(bricks)))))


@cache
def medians(kind: str, name: str, clearance: float | None) -> tuple[np.ndarray, np.ndarray]:
    """Median ways (10,) of the corners that go farthest, and of the same seen from above."""
    bricks, limits = named(kind, 500), shipped(name)
    limits = limits if clearance is None else replace(limits, clearance_mm=clearance)
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * bricks.half[:, None]
    told = []
    for looseness in DIAL:
        motions = fit.fitted(bricks, limits, 2, looseness).motions
        turn = Rotation.from_rotvec(motions.turn).as_matrix()
        way = np.einsum("nij,nkj->nki", turn, corners) - corners + motions.shift[:, None]
        told.append([np.median(np.linalg.norm(seen, axis=2).max(axis=1)) for seen in (way, way[..., :2])])
    return tuple(np.array(told).T)


@pytest.mark.shared_out
@pytest.mark.parametrize("clearance", [None, TIGHT])
@pytest.mark.parametrize("name", ["well-loved", "toy-box", "fresh"])
@pytest.mark.parametrize("kind", ["block", "wall", "city"])
def test_more_looseness_is_never_less_motion(kind, name, clearance):
    """In proportion at first, never less than before; seen from above, where play alone decides, by 2 % at most."""
    every, above = medians(kind, name, clearance)
    assert every[1] / every[0] == pytest.approx(2.0, rel=0.3)
    assert (np.diff(every) > 0.0).all()
    assert (above >= 0.98 * np.maximum.accumulate(above)).all()


@pytest.mark.parametrize("kind", ["block", "wall", "city"])
def test_where_the_dial_runs_dry_is_told(kind):
    bricks, still = named(kind, 500), np.zeros(500, dtype=bool)
    found = {name: leeway.takes(bricks, shipped(name), still) for name in ("fresh", "well-loved", "attic")}
    assert found["fresh"] == 2.0  # nothing it asks for is more than its joints give
    assert 0.8 < found["attic"] <= found["well-loved"] < 1.7
    every, _ = medians(kind, "well-loved", None)
    beyond = np.interp(found["well-loved"], DIAL, every) / every[-1]
    assert beyond > 0.93  # hardly any motion is left
    assert np.interp(found["well-loved"] - 0.2, DIAL, every) / every[-1] < 0.96  # and before it there was some


def test_it_is_asked_for_once():
    bricks, still, limits = named("wall", 300), np.zeros(300, dtype=bool), shipped("well-loved")
    remembered.forget()
    assert leeway.known(bricks, limits, still) == 0.0
    told = leeway.takes(bricks, limits, still)
    assert leeway.known(bricks, limits, still) == told > 0.0
    assert leeway.known(bricks, replace(limits, play_mm=0.02), still) == 0.0


def test_what_is_remembered_of_the_build_stays(monkeypatch):
    bricks, still, limits = named("city", 1200), np.zeros(1200, dtype=bool), shipped("well-loved")
    fit.fitted(bricks, limits, 0, 1.0)
    leeway.takes(bricks, limits, still)
    for owner, name in ((clearance, "contacts"), (problem, "depth_at_rest"), (clearance.openings, "lodged")):
        monkeypatch.setattr(owner, name, lambda *_, name=name: pytest.fail(f"{name} was asked for again"))
    fit.fitted(bricks, limits, 1, 1.0)
    leeway.takes(bricks, replace(limits, shift_mm=0.05), still)


def test_what_cannot_move_takes_none():
    bricks = named("wall", 50)
    assert leeway.takes(bricks, shipped("well-loved"), np.ones(50, dtype=bool)) == 0.0


def test_the_way_of_the_farthest_corner():
    # By hand: half a degree about z moves a corner of a 2x2 by the chord 2 r sin(angle / 2).
    bricks = builds.table(np.array([(0, 0, 0, 2, 2, 3)]))
    turned = np.array([[0.0, 0.0, 0.0, 0.0, 0.0, np.radians(0.5)]])
    way = leeway.farthest(bricks, Motions.packed(turned, np.ones((1, 3))))
    assert way == pytest.approx(2.0 * np.hypot(8.0, 8.0) * np.sin(np.radians(0.25)), rel=1e-6)
