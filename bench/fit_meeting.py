"""The meeting of contacts by tape against the same told plainly, in processor time and on one thread.

    python -m bench.fit_meeting [BRICKS ...]

Both meet every colour of a build once a round, in turn in one process, and must come to the same bits. Prints of each
build how often the tape's time the plain lines take: the median of the rounds, and the quartiles around it.
"""

import sys
from time import process_time

import numpy as np

from addon.core.fit import meeting, tape
from bench import builds, programme

SIZES, ROUNDS, ENOUGH_S = (100, 1_000, 10_000, 30_000), 25, 0.05  # seconds of a round: what a clock is good for


def main(*sizes: str) -> None:
    print(f"{'build':8}{'bricks':>8}{'contacts':>10}{'colours':>9}{'plain / tape':>14}")
    for kind in ("city", "block"):
        for size in map(int, sizes or map(str, SIZES)):
            posed = programme.posed(builds.KINDS[kind](size), builds.LIMITS)
            low, middle, high = np.percentile(ratios(posed), (25, 50, 75))
            told = f"{middle:14.2f}  ({low:.2f} to {high:.2f})"
            print(f"{kind:8}{size:8d}{len(posed.own):10d}{len(posed.own.starts) - 1:9d}{told}", flush=True)


def ratios(posed: programme.Posed) -> list[float]:
    rows, wanted = posed.own, posed.goal.wanted.astype(np.float32)
    mobility, colours = posed.goal.mobility.astype(np.float32), list(rows.slices)
    state, pulled = tape.records(wanted), np.zeros(8 * len(rows), dtype=np.float32)
    room = np.zeros(tape.Workspace.numbers(int(np.diff(rows.starts).max())), dtype=np.float32)
    blocks = [tape.Block(rows, part, mobility, state, pulled, room) for part in colours]
    motions, pull = np.ascontiguousarray(wanted.T), np.zeros((8, len(rows)), dtype=np.float32)

    def by_tape() -> None:
        for block in blocks:
            block.meet()

    def plainly() -> None:
        for part in colours:
            meeting.meet(rows, part, mobility, motions, pull)

    began = process_time()
    plainly(), by_tape()
    times = max(int(ENOUGH_S / max(process_time() - began, 1e-6)), 1)
    found = [seconds(plainly, times) / seconds(by_tape, times) for _ in range(ROUNDS)]
    assert np.array_equal(state[:, :6].T, motions)
    return found


def seconds(work, times: int) -> float:
    began = process_time()
    for _ in range(times):
        work()
    return process_time() - began


if __name__ == "__main__":
    main(*sys.argv[1:])
