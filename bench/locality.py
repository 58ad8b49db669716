"""How far a change reaches: one brick taken out of a build, and which of the others still sit the same to the last bit.

python bench/locality.py [--bricks N]
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from addon.core.fit import fit
from addon.core.fit.motions import Motions
from bench import builds

QUARTERS = (0.25, 0.5, 0.75)  # of the order in which the bricks were laid: which one is taken out
UM_PER_MM = 1000.0


def difference(before: Motions, rows: np.ndarray, after: Motions) -> np.ndarray:
    """How far (mm) each brick's motion went; a turn as the way of a point 16 mm off. 0: the same bit for bit."""
    shift = np.abs(before.shift[rows] - after.shift).max(axis=1)
    return np.maximum(shift, 16.0 * np.abs(before.turn[rows] - after.turn).max(axis=1))


def hops(found: fit.Fitted, start: int) -> np.ndarray:
    """Contacts between each brick and one of them; -1 where none lead there."""
    a, b = found.contacts.a, found.contacts.b
    hop = np.full(len(found.share), -1)
    hop[start], step = 0, 0
    while (hop == step).any():
        for near, far in ((a, b), (b, a)):
            hop[far[(hop[near] == step) & (hop[far] < 0)]] = step + 1
        step += 1
    return hop


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--bricks", type=int, default=10_000)
    count = options.parse_args().bricks
    print("build  looseness  same bit for bit  of those joined to it  farthest changed  over 1 µm")
    for kind, make in builds.KINDS.items():
        bricks = make(count)
        for looseness in (1.0, 2.0):
            whole = fit.fitted(bricks, builds.LIMITS, 1, looseness)
            for quarter in QUARTERS:
                taken = int(quarter * len(bricks))
                left = np.delete(np.arange(len(bricks)), taken)
                after = fit.fitted(builds.only(bricks, left), builds.LIMITS, 1, looseness)
                changed = difference(whole.motions, left, after.motions)
                hop = hops(whole, taken)[left]
                same, joined = changed == 0.0, hop >= 0
                seen = changed * UM_PER_MM > 1.0
                print(
                    f"{kind:6} {looseness:9g}  {same.mean():16.2%}  {same[joined].mean():21.2%}  "
                    f"{hop[~same].max(initial=0):7d} contacts  {hop[seen].max(initial=0):3d} contacts",
                    flush=True,
                )


if __name__ == "__main__":
    main()
