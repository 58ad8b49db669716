"""How errors add up in towers, against the textbook: spreads and correlations by height, and what differs by seed.

python bench/stackup.py [--preset NAME]

Independent contributions add up as their squares (Drake: Dimensioning and Tolerancing Handbook, McGraw-Hill 1999,
ch. 9), so that two bricks of a stack correlate as the standard deviation of the lower one to that of the upper:
sqrt(i / j) for a walk from the ground (Cox, Miller: The Theory of Stochastic Processes, Methuen 1965, ch. 2). Both from
memory.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
from scipy import stats

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon.core.fit import fit  # noqa: E402
from addon.core.presets import preset  # noqa: E402  the checkout is no installed package
from addon.core.sizes import TRADE  # noqa: E402
from bench import builds  # noqa: E402

SIZES, HEIGHT, ACROSS, SEEDS = ((1, 1), (2, 2), (2, 4)), 40, 20, 40
APART = 60  # pitches: three patches, so that no two towers share a walk
MOTIONS = {"aside, mm": (0, 1.0), "up, mm": (2, 1.0), "tilt, °": (3, 180 / np.pi), "twist, °": (5, 180 / np.pi)}
PAIRS = ((10, 20), (10, 40), (20, 40))
COURSE_MM = TRADE.brick_height


def shipped(name: str) -> preset.Fit:
    return preset.parse((CHECKOUT / "presets" / f"{name}.json").read_text("utf-8"), name).fit


def towers(size: tuple[int, int], limits: preset.Fit, seed: int = 1) -> tuple[np.ndarray, fit.Fitted]:
    """Motions (towers, courses, 6) of equal towers that stand alone on the ground."""
    place = APART * np.stack(np.divmod(np.arange(ACROSS**2), ACROSS), axis=1)
    x, y = np.repeat(place, HEIGHT, axis=0).T
    level, one = np.tile(np.arange(HEIGHT), ACROSS**2), np.ones(len(x), dtype=int)
    bricks = builds.table(np.stack([x, y, 3 * level, size[0] * one, size[1] * one, 3 * one], axis=1))
    found = fit.fitted(bricks, limits, seed, 1.0)
    return np.hstack([found.motions.shift, found.motions.turn]).reshape(ACROSS**2, HEIGHT, 6), found


def added_up(values: np.ndarray) -> np.ndarray:
    """The textbook's spread (courses,) of values (towers, courses): what the steps add up to as independent ones."""
    return np.sqrt(np.cumsum(np.diff(values, axis=1, prepend=0.0).var(axis=0)))


def after_one_another(values: np.ndarray) -> float:
    """How successive steps of values (towers, courses) correlate, over all towers; 0 for independent ones."""
    steps = np.diff(values, axis=1)
    steps = steps - steps.mean(axis=0)
    return float(stats.pearsonr(steps[:, 1:].ravel(), steps[:, :-1].ravel()).statistic)


def report(size: tuple[int, int], limits: preset.Fit) -> None:
    motions, found = towers(size, limits)
    print(f"\n{size[0]}x{size[1]}, {len(motions)} towers of {HEIGHT}: {found.repaired} sent back, {found.cut} cut")
    print(f"{'':10}{'spread at 1':>12}{'10':>8}{'20':>8}{'40':>8}{'textbook':>10}{'variance':>10}"
          + "".join(f"{f'{i}, {j}':>14}" for i, j in PAIRS) + f"{'successive':>12}")  # fmt: skip
    for name, (axis, unit) in MOTIONS.items():
        values = motions[..., axis] * unit
        spread = values.std(axis=0)
        straight = stats.linregress(np.arange(HEIGHT), spread**2).rvalue
        pairs = []
        for i, j in PAIRS:
            r = stats.pearsonr(values[:, i - 1], values[:, j - 1]).statistic
            pairs.append(f"{r:.2f} ({spread[i - 1] / spread[j - 1]:.2f})")
        print(f"{name:10}{spread[0]:12.3f}" + "".join(f"{spread[n - 1]:8.3f}" for n in (10, 20, 40))
              + f"{added_up(values)[-1]:10.3f}{straight:10.3f}" + "".join(f"{each:>14}" for each in pairs)
              + f"{after_one_another(values):12.3f}")  # fmt: skip


def report_wall(limits: preset.Fit) -> None:
    """Course by course: the middle bricks of a wall, by seed."""
    bricks = builds.wall(400)
    course = np.rint(bricks.low[:, 2] / COURSE_MM).astype(int)
    middle = np.abs(bricks.centre[:, 0] - bricks.centre[:, 0].mean()) < 40.0
    rows = [np.flatnonzero(middle & (course == n)) for n in range(20)]
    every = []
    for seed in range(SEEDS):
        motions = fit.fitted(bricks, limits, seed, 1.0).motions
        every.append([np.concatenate([motions.shift[row], motions.turn[row]], axis=1).mean(axis=0) for row in rows])
    found = np.array(every)
    print(f"\nwall, courses of its middle 80 mm, {SEEDS} seeds")
    for name, (axis, unit) in MOTIONS.items():
        values = found[..., axis] * unit
        spread = values.std(axis=0)
        print(f"{name:10}" + "".join(f"{spread[n - 1]:8.3f}" for n in (1, 5, 10, 20))
              + f"  5, 20: {stats.pearsonr(values[:, 4], values[:, 19]).statistic:.2f}"
              + f"  successive {after_one_another(values):.2f}")  # fmt: skip
    gaps = np.diff(found[..., 2], axis=1)
    between = np.corrcoef(gaps - gaps.mean(axis=0))[np.triu_indices(SEEDS, 1)]
    print(f"rise of a course by seed: {gaps.mean():.4f} mm, spread {gaps.std(axis=0).mean():.4f}, least "
          f"{gaps.min():.4f}; two seeds correlate {between.mean():.3f}")  # fmt: skip


def main() -> None:
    given = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given.add_argument("--preset", default="well-loved")
    limits = shipped(given.parse_args().preset)
    print("spread: standard deviation; textbook: what the steps add up to as independent ones; variance: how straight "
          "it\ngrows (r); pairs of courses: correlation (textbook); successive: of one step and the next")  # fmt: skip
    for size in SIZES:
        report(size, limits)
    report_wall(limits)


if __name__ == "__main__":
    main()
