"""How long it takes to tell where hands, dust and light get to, on builds of several sizes.

    python bench/placement.py [BRICKS ...]

Seconds by the clock, those of processors, and what the process takes at most in MiB so far.
"""

import resource
import sys
from pathlib import Path
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from addon.core.remembered import forget
from addon.core.wear.placement.placement import placed
from bench import builds

COUNTS = (10_000, 100_000)


def main() -> None:
    print(f"{'build':8}{'bricks':>8}{'seconds':>10}{'processors':>12}{'MiB':>8}")
    for count in map(int, sys.argv[1:]) if len(sys.argv) > 1 else COUNTS:
        for kind in ("city", "wall", "block"):
            bricks = builds.KINDS[kind](count)
            forget()
            start, worked = perf_counter(), process_time()
            placed(bricks)
            took, work = perf_counter() - start, process_time() - worked
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss >> 10
            print(f"{kind:8}{count:>8}{took:>10.2f}{work:>12.2f}{peak:>8}", flush=True)


if __name__ == "__main__":
    main()
