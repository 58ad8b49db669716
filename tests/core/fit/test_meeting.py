"""The tape that contacts are met by against the same told plainly, to the last bit, on builds laid at random."""

from functools import cache

import numpy as np
import pytest

from addon.core.fit import meeting, solver, tape
from addon.core.fit.rows import Rows
from bench import builds, programme
from bench.odd import builds as odd
from bench.odd import judge
from tests.core.fit.test_fit_guarantee import turned

MOMENTUM, BACK = np.float32(0.5), 3  # of a short solve, as solver.py gives the reasons for

BUILDS = {
    "city": lambda seed: builds.city(200, seed),
    "block": lambda seed: builds.block(200, seed),
    "wall": lambda seed: builds.wall(200, seed),
    "block at an angle": lambda seed: turned(builds.block(120, seed), (0.3, -0.2, 0.1)),
    "some at an angle": lambda seed: builds.with_another_at_an_angle(builds.city(120, seed)),
    "masts": lambda _: odd.build("masts").bricks(),
}


@cache
def posed(name: str, seed: int) -> programme.Posed:
    return programme.posed(BUILDS[name](seed), judge.LIMITS, seed, 2.0, programme.ALL)


def begun(problem: programme.Posed, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mobility (2, N), motions (6, N) and pull (8, C) at random: some bricks stay, rows have pushed before."""
    rng = np.random.default_rng(seed)
    mobility = np.where(rng.random(len(problem.bricks)) < 0.1, 0.0, problem.goal.mobility).astype(np.float32)
    motions = (problem.goal.wanted.T * rng.normal(1.0, 0.3, (6, 1))).astype(np.float32)
    return mobility, motions, rng.normal(0.0, 0.02, (8, len(problem.own))).astype(np.float32)


def blocks(rows: Rows, mobility: np.ndarray, state: np.ndarray, pull: np.ndarray) -> list[tape.Block]:
    room = np.zeros(tape.Workspace.numbers(int(np.diff(rows.starts).max())), dtype=np.float32)
    return [tape.Block(rows, part, mobility, state, pull, room) for part in rows.slices]


def by_blocks(rows: Rows, pull: np.ndarray) -> np.ndarray:
    """Pull (8, C) as a tape keeps it: block after block."""
    return np.concatenate([pull[:, part].ravel() for part in rows.slices])


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", BUILDS)
def test_a_tape_does_what_is_told_plainly(name, seed):
    rows = posed(name, seed).own
    mobility, motions, pull = begun(posed(name, seed), seed)
    state, pulled = tape.records(motions.T), by_blocks(rows, pull)
    tapes = blocks(rows, mobility, state, pulled)
    for _ in range(3):
        for part, block in zip(rows.slices, tapes, strict=True):
            meeting.meet(rows, part, mobility, motions, pull)
            block.meet()
            assert np.array_equal(state[:, :6].T, motions)
    assert np.array_equal(pulled, by_blocks(rows, pull))
    assert not np.array_equal(motions, begun(posed(name, seed), seed)[1])


@pytest.mark.parametrize("few", [1, 1 << 20])
def test_a_tape_over_parts_of_arrays_is_that_over_copies(few, monkeypatch):
    monkeypatch.setattr(tape, "FEW", few)
    test_a_tape_does_what_is_told_plainly("block", 1)


@pytest.mark.parametrize("name", BUILDS)
def test_forces_to_begin_with_are_those_at_the_end(name):
    rows = posed(name, 0).own
    mobility, motions, pull = begun(posed(name, 0), 0)
    state, pulled = tape.records(motions.T), np.zeros(8 * len(rows), dtype=np.float32)
    for block in blocks(rows, mobility, state, pulled):
        forces = (pull[:, block.part] * rows.mass[:, block.part]).T
        block.begin(forces)
        assert np.allclose(block.forces, forces, rtol=1e-6)


@pytest.mark.parametrize("name", BUILDS)
def test_a_solve_is_sweeps_of_plain_meetings(name):
    """Nine sweeps, with the bricks' own limits and momentum between, as the solver's first lines say them."""
    problem, sweeps = posed(name, 2), 9
    goal, rows = problem.goal, problem.own
    mobility, pull = goal.mobility.astype(np.float32), np.zeros((8, len(rows)), dtype=np.float32)
    motions, least, most = (each.T.astype(np.float32) for each in (goal.wanted, goal.least, goal.most))
    motions, held = motions.copy(), np.zeros_like(motions)
    colours, few = list(rows.slices), int((rows.colours < BACK).sum())

    def limit() -> None:
        free = motions - held
        motions[:] = np.clip(free, least, most)
        held[:] = motions - free

    before = [each.copy() for each in (motions, held, pull)]
    limit()
    for sweep in range(sweeps):
        for part in (*colours, *colours[:few][::-1]):
            meeting.meet(rows, part, mobility, motions, pull)
        if sweep < sweeps - 1:
            for now, was in zip((motions, held, pull), before, strict=True):
                step = now - was
                was[:] = now
                now += MOMENTUM * step
        limit()
    found = solver.closest(goal.wanted, goal.least, goal.most, goal.mobility, rows, sweeps)
    assert np.array_equal(found.motions.T, motions)
    assert np.array_equal(found.forces[rows.order].T, pull * rows.mass)


def test_rows_are_met_as_one_would_by_hand():
    """Two bricks on a line that want into each other by 0.2 mm, and may touch: each gives half of it, and the four
    corners share one push of 0.1, which is 0.1 along the mean of them; nothing turns or goes aside."""
    problem = programme.posed(builds.table(np.array([(0, 0, 0, 2, 2, 3), (0, 0, 3, 2, 2, 3)])), judge.LIMITS)
    rows = problem.own.limited(*np.array([[[0.0, -1.0, -1.0]], [[1.0, 1.0, 1.0]]]))
    motions, pull = np.zeros((6, 2), dtype=np.float32), np.zeros((8, 1), dtype=np.float32)
    lower, upper = rows.a[0], rows.b[0]
    motions[2, lower], motions[2, upper] = 0.1, -0.1
    for _ in range(60):
        meeting.meet(rows, slice(0, 1), np.array([[1.0, 1.0], [0.02, 0.02]], dtype=np.float32), motions, pull)
    assert motions[2] == pytest.approx(0.0, abs=1e-6)
    assert np.abs(np.delete(motions, 2, axis=0)).max() < 1e-6
    assert (pull[:4] * rows.mass[:4]).sum() == pytest.approx(0.1, abs=1e-6)
    assert not pull[4:].any()
