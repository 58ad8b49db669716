"""How long the fit takes, without Blender: first and again, phase by phase, its growth with size, and its memory.

    python bench/fit_core.py [--million] [--largest BRICKS] [--looseness LOOSENESS]

Each build is fitted in a process of its own, so that its peak memory is its own; the best of a few rounds counts.
`first` is a build never seen before, `again` the same build with the next seed, as when a dial turns: contacts and rows
are remembered up to a few hundred thousand of them.
"""

import argparse
import json
import resource
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon.core import remembered  # noqa: E402  the checkout is no installed package
from addon.core.build import contacts  # noqa: E402
from addon.core.fit import attempts, clearance, fit, limits, problem, repair, solver, targets  # noqa: E402
from bench import builds  # noqa: E402

KINDS, SIZES, MILLION = ("city", "block", "wall"), (1_000, 10_000, 100_000), 1_000_000
PHASES = ("contacts", "targets", "rows", "solve", "check and repair")


def main() -> None:
    given = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given.add_argument("--million", action="store_true")
    given.add_argument("--largest", type=int, default=SIZES[-1], metavar="BRICKS")
    given.add_argument("--looseness", type=float, default=1.0)
    given.add_argument("--one", nargs=2, help=argparse.SUPPRESS)
    options = given.parse_args()
    if options.one:
        print(json.dumps(measured(options.one[0], int(options.one[1]), options.looseness)))
        return
    sizes = [*(size for size in SIZES if size <= options.largest), *([MILLION] if options.million else [])]
    print(f"numpy {np.__version__}, Python {sys.version.split()[0]}, looseness {options.looseness:g}")
    print(f"{'build':8}{'bricks':>9}{'first s':>9}{'again s':>9}{'µs/brick':>9}"
          + "".join(f"{each:>18}" for each in PHASES)
          + f"{'sent back':>11}{'left':>6}{'peak MB':>9}{'kB/brick':>9}")  # fmt: skip
    for kind in KINDS:
        seconds = []
        for size in sizes:
            one = [sys.executable, __file__, "--one", kind, str(size), "--looseness", str(options.looseness)]
            found = json.loads(subprocess.run(one, capture_output=True, text=True, check=True).stdout)
            seconds.append(found["first"])
            print(f"{kind:8}{size:9d}{found['first']:9.3f}{found['again']:9.3f}{1e6 * found['first'] / size:9.1f}"
                  + "".join(f"{found[each]:18.3f}" for each in PHASES)
                  + f"{found['repaired']:11d}{found['cut']:6d}{found['peak']:9.0f}{1e3 * found['more'] / size:9.2f}",
                  flush=True)  # fmt: skip
        growth = np.diff(np.log(seconds)) / np.diff(np.log(sizes))
        print(f"{'':8}grows with the number of bricks to the power of " + ", ".join(f"{each:.2f}" for each in growth))


def measured(kind: str, size: int, looseness: float) -> dict[str, float]:
    """Seconds of the whole fit, the best of a few; of each phase in one round more; memory in MB."""
    bricks = builds.KINDS[kind](size)
    before = peak()
    first = again = np.inf
    for _ in range(5 if size < 100_000 else 2 if size < MILLION else 1):
        remembered.forget()
        started = perf_counter()
        found = fit.fitted(bricks, builds.LIMITS, 0, looseness)
        between = perf_counter()
        if size < MILLION:
            fit.fitted(bricks, builds.LIMITS, 1, looseness)
        first, again = min(first, between - started), min(again, perf_counter() - between)
    after = peak()
    phases = by_phase(bricks, looseness) if size < MILLION else dict.fromkeys(PHASES, np.nan)
    return {
        "first": first,
        "again": again,
        **phases,
        "repaired": found.repaired,
        "cut": found.cut,
        "peak": after,
        "more": after - before,
    }


def by_phase(bricks, looseness: float) -> dict[str, float]:
    """The same steps as `fit.fitted`, one by one; shares of the whole rather than its sum."""
    times = [perf_counter()]

    def lap() -> None:
        times.append(perf_counter())

    shrink = clearance.shrinkage(bricks, builds.LIMITS.clearance_mm)
    touching = contacts.contacts(bricks, shrink)
    lap()
    goal = targets.targets(bricks, touching, builds.LIMITS, 0, looseness, np.zeros(len(bricks), dtype=bool))
    lap()
    work = repair.Repair(problem.Problem.of(bricks, touching, goal, shrink, builds.LIMITS, looseness))
    built = limits.first_rows(work.problem)
    lap()
    found = solver.closest(goal.wanted, goal.least, goal.most, goal.mobility, built, attempts.SWEEPS)
    work.forces[work.problem.seated] = found.forces
    lap()
    fit.kept(work, found.motions)
    lap()
    return dict(zip(PHASES, np.diff(times), strict=True))


def peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


if __name__ == "__main__":
    main()
