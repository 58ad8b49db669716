"""The fit's solver against OSQP, PIQP and Clarabel on the same programme in the same run, and against none at all.

    python bench/fit_solvers.py [--large] [--case KIND BRICKS] [--seats] [--limit SECONDS] [--looseness LOOSENESS]

Ours is timed whole: targets, rows, solve, exact check and repair, contacts remembered; and the sweeps alone. The
others are given the finished matrices of what it holds in the end, every joint, rest and seam, which costs them nothing
here; with --seats only those of the joints and rests that it starts from, its own finding that seams hardly ever bind.

Twice at the same accuracy: each of the others at the loosest of its tolerances that leaves no more beyond a limit than
our whole fit does, and than FINE, which ours reaches by more sweeps. A solver that takes longer than the limit is
stopped.
"""

import argparse
import multiprocessing
import sys
from pathlib import Path
from time import perf_counter, process_time

import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon.core.fit import attempts, fit  # noqa: E402  the checkout is no installed package
from bench import builds, programme  # noqa: E402

CASES = (("city", 100), ("city", 300), ("city", 1_000), ("block", 1_000), ("city", 10_000))
LARGE = (("block", 10_000), ("city", 100_000))
OTHERS = programme.ORACLES
TOLERANCES = (3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6, 1e-8)
FINE = 1e-4  # mm beyond a limit


def main() -> None:
    given = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given.add_argument("--large", action="store_true", help="builds that take the others minutes")
    given.add_argument("--case", nargs=2, action="append", metavar=("KIND", "BRICKS"), help="this build in their place")
    given.add_argument("--seats", action="store_true", help="give the others the seats alone")
    given.add_argument("--limit", type=float, default=120.0, metavar="SECONDS")
    given.add_argument("--looseness", type=float, default=1.0)
    options = given.parse_args()
    small = programme.posed(builds.KINDS["city"](20), builds.LIMITS).programme
    for other in OTHERS.values():  # loads it, which is no part of its time
        other(small, 1e-3)
    print("ratio: seconds of processors of the other over seconds of our whole fit; below 1 the other is faster")
    kinds = programme.SEATS if options.seats else programme.FACES
    for kind, size in options.case or (*CASES, *(LARGE if options.large else ())):
        compare(kind, int(size), kinds, options.limit, options.looseness)


def compare(kind: str, size: int, kinds: tuple[int, ...], limit: float, looseness: float) -> None:
    bricks = builds.KINDS[kind](size)
    whole, fitted = best(lambda: fit.fitted(bricks, builds.LIMITS, 0, looseness))
    first = programme.posed(bricks, builds.LIMITS, 0, looseness)
    asked = programme.posed(bricks, builds.LIMITS, 0, looseness, kinds)
    same = asked.programme
    print(f"\n{kind} {size}: {same.matrix.shape[1]} unknowns, {same.matrix.shape[0]} rows")
    reference = asked.packed(asked.ours(150 if size <= 10_000 else 60))
    motions = np.hstack([fitted.motions.shift, fitted.motions.turn])
    report("ours, whole fit", whole, whole, same, reference, asked.packed(motions))
    left = same.violation(asked.packed(motions))
    fine, alone = whole, 0.0
    for sweeps in (attempts.SWEEPS, 25, 50, 100, 200):
        seconds, motions = best(lambda sweeps=sweeps: first.ours(sweeps))
        report(f"ours, {sweeps} sweeps alone", seconds, whole, same, reference, asked.packed(motions))
        alone = seconds if sweeps == attempts.SWEEPS else alone
        if first.programme.violation(first.packed(motions)) <= FINE:
            fine = whole + seconds - alone
            break
    seconds, motions = best(asked.clamped)
    report("halved limits, no solver", seconds, whole, same, reference, asked.packed(motions))
    print(f"  ours leaves {left:.0e} mm beyond a limit in {whole:.3f} s, {FINE:g} in {fine:.3f} s")
    for name in OTHERS:
        against(name, same, reference, {left: whole, FINE: fine}, limit)


def against(name: str, same: programme.Programme, reference: np.ndarray, ours: dict[float, float], limit: float):
    """Reports another solver at each accuracy, of which ours took so many seconds."""
    tolerances, answer = iter(TOLERANCES), None
    for beyond in sorted(ours, reverse=True):
        while answer is None or same.violation(answer[1]) > beyond:
            tolerance = next(tolerances)
            if (answer := within(name, same, tolerance, limit)) is None:
                print(f"  {name:26} over {limit:g} s: over {limit / ours[beyond]:.0f} times", flush=True)
                return
        report(f"{name} {tolerance:g}, for {beyond:.0e}", answer[0], ours[beyond], same, reference, answer[1])


def report(
    name: str, seconds: float, whole: float, same: programme.Programme, reference: np.ndarray, x: np.ndarray
) -> None:
    off = same.objective(x) / same.objective(reference) - 1.0
    beyond = f"beyond limits {same.violation(x):.0e} mm"
    print(
        f"  {name:26}{seconds:9.3f} s  ratio {seconds / whole:8.2f}  distance² {1.0 + off:8.5f}  {beyond}", flush=True
    )


def best(job):
    """Seconds of processors, of the quickest of three rounds, of more where they are short and fewer where long, and
    what came out: a busy machine tells nothing by the clock."""
    seconds, rounds = np.inf, 0
    started = perf_counter()
    while perf_counter() - started < (10.0 if rounds < 3 else 1.0):
        begun = process_time()
        result = job()
        seconds, rounds = min(seconds, process_time() - begun), rounds + 1
    return seconds, result


def within(name: str, same: programme.Programme, tolerance: float, limit: float) -> tuple[float, np.ndarray] | None:
    """Seconds and answer of another solver, in a process of its own that is stopped after `limit` seconds."""
    context = multiprocessing.get_context("fork")
    here, there = context.Pipe(duplex=False)
    worker = context.Process(target=_answered, args=(name, same, tolerance, there))
    worker.start()
    answer = here.recv() if here.poll(limit) else None
    worker.kill()
    worker.join()
    return answer


def _answered(name: str, same: programme.Programme, tolerance: float, there) -> None:
    there.send(best(lambda: OTHERS[name](same, tolerance)))


if __name__ == "__main__":
    main()
