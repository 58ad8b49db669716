"""The demo's build can be built: checked brick by brick on its positions in mm, not on the site's own book-keeping."""

from collections import Counter
from functools import cache
from itertools import product

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from addon.demo.colours import COLOURS
from addon.demo.lighthouse import Placed, bricks
from addon.demo.parts import PARTS

NEAR = 1e-6  # mm


def turned(points, brick: Placed) -> np.ndarray:
    """(N, 2) points of a part's plan as they lie in the build."""
    quarter = np.array([[0, -1], [1, 0]])
    plan = np.asarray(points, float).reshape(-1, 2) @ np.linalg.matrix_power(quarter, brick.quarter_turns).T
    return plan + brick.position[:2]


def box(brick: Placed) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest corner of the brick's body, studs left out."""
    part = PARTS[brick.part]
    half = np.array(part.size) / 2
    plan = turned([-half, half], brick)
    z = brick.position[2]
    return np.array([*plan.min(axis=0), z]), np.array([*plan.max(axis=0), z + part.height])


def spots(which: str) -> tuple[np.ndarray, np.ndarray]:
    """(N, 3) places of all studs, at their foot, or of all sockets, at their mouth; and (N,) whose they are."""
    places, owners = [], []
    for number, brick in enumerate(bricks()):
        part = PARTS[brick.part]
        plan = turned(getattr(part, which), brick)
        z = brick.position[2] + (part.height if which == "studs" else 0.0)
        places.append(np.column_stack([plan, np.full(len(plan), z)]))
        owners.append(np.full(len(plan), number))
    return np.concatenate(places), np.concatenate(owners)


@cache
def joints() -> set[tuple[int, int]]:
    """Pairs (lower, upper) where a stud of the lower one stands in a socket of the upper one."""
    studs, lower = spots("studs")
    sockets, upper = spots("sockets")
    distance, nearest = cKDTree(sockets).query(studs)
    return {(int(lower[k]), int(upper[nearest[k]])) for k in np.flatnonzero(distance < NEAR)}


def test_no_two_bodies_overlap():
    low, high = map(np.array, zip(*map(box, bricks()), strict=True))
    for number in range(len(low)):
        overlap = np.minimum(high[number], high[number + 1 :]) - np.maximum(low[number], low[number + 1 :])
        clash = np.flatnonzero((overlap > NEAR).all(axis=1))
        assert not len(clash), f"brick {number} and brick {number + 1 + clash[0]} are in one place"


def test_no_stud_runs_into_what_stands_above():
    """A stud under a brick's footprint is in one of its sockets, or between the feet of an arch."""
    build = bricks()
    low, high = map(np.array, zip(*map(box, build), strict=True))
    for stud, owner in zip(*spots("studs"), strict=True):
        level = np.abs(low[:, 2] - stud[2]) < NEAR
        over = (
            level & (low[:, :2] < stud[:2] + 2.4 - NEAR).all(axis=1) & (high[:, :2] > stud[:2] - 2.4 + NEAR).all(axis=1)
        )
        for upper in np.flatnonzero(over):
            if not build[upper].part.startswith("arch"):
                assert (owner, upper) in joints(), f"a stud of {build[owner]} is half under {build[upper]}"


def test_every_brick_is_held_by_a_stud_or_stands_on_the_table():
    held = {number for joint in joints() for number in joint}
    loose = [n for n, b in enumerate(bricks()) if n not in held and b.position[2] > NEAR]
    assert not loose, f"{len(loose)} bricks hang in the air, the first is {bricks()[loose[0]]}"


def test_the_build_lifts_off_the_table_in_one_piece():
    lower, upper = np.array(sorted(joints())).T
    count = len(bricks())
    pieces, _ = connected_components(coo_array((np.ones(len(lower)), (lower, upper)), shape=(count, count)))
    assert pieces == 1


def test_every_brick_rests_on_something_below():
    carried = {upper for _, upper in joints()}
    hanging = [b for n, b in enumerate(bricks()) if n not in carried and b.position[2] > NEAR]
    assert not hanging


def test_everything_lies_on_the_grid():
    for brick in bricks():
        low, _ = box(brick)
        assert low[2] / 3.2 == pytest.approx(round(low[2] / 3.2), abs=NEAR)
        assert low[:2] / 4.0 == pytest.approx(np.round(low[:2] / 4.0), abs=NEAR)


def test_it_is_as_large_and_as_varied_as_a_real_small_set():
    build = bricks()
    parts, colours = Counter(b.part for b in build), Counter(b.colour for b in build)
    assert 350 <= len(build) <= 700
    assert len(parts) >= 18
    assert len(colours) >= 6
    assert set(colours) <= set(COLOURS)
    assert any(COLOURS[name].clear for name in colours)
    assert {"round_brick_1x1", "cone_1x1", "arch_1x4", "fence_1x4", "slope_1x2", "tile_1x4"} <= set(parts)


def test_walls_are_in_bond():
    """No upright seam between two neighbours runs on over more than three courses of the tower or cottage."""
    build = bricks()
    owner = {}
    for number, brick in enumerate(build):
        low, high = box(brick)
        for x, y, z in product(
            *(np.arange(lo + step / 2, hi, step) for lo, hi, step in zip(low, high, (8, 8, 3.2), strict=True))
        ):
            owner[round(x), round(y), round(z / 3.2 - 0.5)] = number
    walls = {n for n, b in enumerate(build) if b.colour in ("chalk white", "cream") and b.part.startswith("brick")}
    longest = 0
    for x, y, z in owner:
        for nx, ny in ((x + 8, y), (x, y + 8)):
            run = set()
            level = z
            while True:
                one, other = owner.get((x, y, level)), owner.get((nx, ny, level))
                if one is None or other is None or one == other or not {one, other} <= walls:
                    break
                run.add((one, other))
                level += 1
            longest = max(longest, len(run))
    assert longest <= 3


def test_the_build_is_the_same_each_time():
    bricks.cache_clear()
    first = bricks()
    bricks.cache_clear()
    assert bricks() == first
