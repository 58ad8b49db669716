"""What builds cost that do not fit: bricks too high, swapped, in one place, shifted, too large, pressed, far away.

    python -m bench.misfits [--bricks 40 200 1000] [--presets NAME ...] [--judge] [NAME ...]

Each build at looseness 0.5, 1 and 2 under three presets. Prints a line a build and size, the worst of its fits:

first, dial  processor seconds of the first fit and of a turn of the dial after it
sweeps       of all solves, and over how many contacts these went
still, one, calm   bricks that stand as exported, that go as one with a neighbour, that want less or went back
left         contacts that are not kept
cut          mm that bodies lie deeper in each other than in the export; with `--judge` by Minkowski differences too
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from time import process_time

import numpy as np

from addon.core import remembered, rigid
from addon.core.build import identity
from addon.core.build.bricks import Bricks
from addon.core.fit import fit, overlap, repair
from addon.core.parts.parts import Part, measured
from addon.core.presets import preset

from . import builds
from .odd import joints, parts, solids
from .odd.builds import table
from .odd.hulls import Hull, depth

PRESETS, LOOSENESS, SIZES = ("fresh", "well-loved", "toy-box"), (0.5, 1.0, 2.0), (40, 200, 1000)
_PRESETS = Path(__file__).resolve().parents[1] / "presets"
_UP = np.array([0.0, 0.0, 1.0])
_CORNERS = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])

Misfit = Callable[[Bricks, np.random.Generator], Bricks]


# What does not fit.


def grown(bricks: Bricks, which: np.ndarray, by: tuple[float, float, float]) -> Bricks:
    """Some bricks larger by so many mm; their seats stay where they were."""
    made, part, origin, larger = list(bricks.parts), bricks.part.copy(), bricks.origin.copy(), {}
    for n in which.tolist():
        own = bricks.parts[bricks.part[n]]
        if bricks.part[n] not in larger:
            larger[bricks.part[n]] = len(made)
            made.append(measured(own.vertices * (1.0 + np.array(by) / (own.body_high - own.body_low)), own.triangles))
        part[n] = larger[bricks.part[n]]
    origin[which] += 0.5 * by[2] * bricks.turn[which, :, 2]
    return named(replace(bricks, parts=tuple(made), part=part, origin=origin))


def moved(bricks: Bricks, which: np.ndarray, by) -> Bricks:
    origin = bricks.origin.copy()
    origin[which] += by
    return named(replace(bricks, origin=origin))


def more(bricks: Bricks, which: np.ndarray) -> Bricks:
    """Some bricks once more in the same place."""
    return named(builds.only(bricks, np.append(np.arange(len(bricks)), which)))


def named(bricks: Bricks) -> Bricks:
    """With the identities that an import gives."""
    prints = np.array([identity.fingerprint(part.vertices) for part in bricks.parts], dtype=np.uint64)
    return replace(bricks, key=identity.keys(prints[bricks.part], bricks.turn, bricks.centre))


def some(bricks: Bricks, rng: np.random.Generator, count: int) -> np.ndarray:
    return np.sort(rng.choice(len(bricks), min(count, len(bricks)), replace=False))


def too_large(bricks: Bricks, rng, by: tuple[float, float, float], count: int = 5) -> Bricks:
    return grown(bricks, some(bricks, rng, count), by)


def course_shifted(bricks: Bricks, rng, by: tuple[float, float, float]) -> Bricks:
    level = np.median(bricks.low[:, 2])
    return moved(bricks, np.flatnonzero(np.abs(bricks.low[:, 2] - level) < 1.0), by)


def in_one_place(bricks: Bricks, rng, count: int) -> Bricks:
    return more(bricks, some(bricks, rng, 1).repeat(count - 1))


def typed(bricks: Bricks, rng, share: float, place: tuple[float, float, float]) -> Bricks:
    """A share of the bricks at one place in mm, as where it is typed for all that are selected."""
    which, origin = some(bricks, rng, int(share * len(bricks))), bricks.origin.copy()
    origin[which] = place
    return named(replace(bricks, origin=origin))


def far(bricks: Bricks, rng, share: float, by: float) -> Bricks:
    """A share of the bricks so many mm to the side, as single precision holds them in metres."""
    which, origin = some(bricks, rng, int(share * len(bricks))), bricks.origin.copy()
    origin[which, 0] = 1e3 * (1e-3 * (origin[which, 0] + by)).astype(np.float32).astype(float)
    return named(replace(bricks, origin=origin))


def percent_larger(bricks: Bricks, rng, share: float = 0.01) -> Bricks:
    larger = tuple(measured(part.vertices * (1.0 + share), part.triangles) for part in bricks.parts)
    return named(replace(bricks, parts=larger))


def pressed_together(bricks: Bricks, rng, share: float) -> Bricks:
    return named(replace(bricks, origin=bricks.origin * (1.0 - share)))


def anything(bricks: Bricks, rng, share: float = 0.05) -> Bricks:
    """Bricks too high, low, wide, shifted, sunk, turned and there twice, all mixed."""
    kinds = (
        *(partial(grown, by=by) for by in ((0, 0, 0.1), (0, 0, -0.2), (0.3, 0, 0), (0, 8.0, 0), (0, 0, 3.2))),
        *(partial(moved, by=by) for by in ((0.05, 0, 0), (0, 0, -0.05), (0.2, 0.2, 0.2))),
        turned, more,
    )  # fmt: skip
    chosen = rng.permutation(len(bricks))[: int(share * len(bricks))]
    for lot, misfit in zip(np.array_split(chosen, len(kinds)), kinds, strict=True):
        bricks = misfit(bricks, lot)
    return bricks


def turned(bricks: Bricks, which: np.ndarray, degrees: float = 0.5) -> Bricks:
    turn = bricks.turn.copy()
    turn[which] = rigid.product(rigid.rotation(np.radians(degrees) * _UP)[None], turn[which])
    return named(replace(bricks, turn=turn))


# What it is done to.


def meshed(kind: str, count: int) -> Bricks:
    """A synthetic build whose parts have meshes as exports hold them."""
    bricks = builds.KINDS[kind](count)
    return named(replace(bricks, parts=tuple(_meshed(part) for part in bricks.parts)))


def _meshed(part: Part) -> Part:
    size = part.body_high - part.body_low
    nx, ny = np.rint(size[:2] / solids.PITCH).astype(int).tolist()
    made = parts.odd(f"{'plate' if size[2] < 0.5 * solids.BRICK else 'brick'}-{nx}-{ny}", solids.Style())
    return measured(made.vertices - 0.5 * size[2] * _UP, made.triangles)


def spoiled(kind: str, misfit: Misfit, count: int) -> Bricks:
    return misfit(meshed(kind, count), np.random.default_rng(1))


def hinges(count: int, recipe=joints.doors) -> Bricks:
    """Hinges whose fingers leave no gap at all."""
    laid = list(recipe(np.random.default_rng(1), max(count // 4, 1)))
    return named(table(laid, solids.Style(0.0, 12)))


MISFITS: dict[str, Misfit] = {
    "as exported": lambda bricks, rng: bricks,
    **{f"{by:+g} high": partial(too_large, by=(0, 0, by)) for by in (0.01, 0.03, 0.1, 0.3, -0.1, -0.3)},
    "+0.1 wide": partial(too_large, by=(0.1, 0.1, 0)),
    "one taller": partial(too_large, by=(0, 0, 3.2), count=1),
    "one wider": partial(too_large, by=(8.0, 0, 0), count=1),
    "two in one": partial(in_one_place, count=2),
    "ten in one": partial(in_one_place, count=10),
    "fifty in one": partial(in_one_place, count=50),
    "a third typed": partial(typed, share=0.3, place=(1e6, 0, 0)),
    "all typed": partial(typed, share=1.0, place=(1e12, 0, 0)),
    "a third 10 km off": partial(far, share=0.3, by=1e7),
    "a third 1000 km off": partial(far, share=0.3, by=1e9),
    "course aside": partial(course_shifted, by=(0.05, 0.05, 0)),
    "course up": partial(course_shifted, by=(0, 0, 0.05)),
    "1% larger": percent_larger,
    "5% anything": anything,
    "pressed 0.5%": partial(pressed_together, share=0.005),
    "pressed 5%": partial(pressed_together, share=0.05),
}
BUILDS: dict[str, Callable[[int], Bricks]] = {
    **{f"{kind}, {name}": partial(spoiled, kind, misfit) for kind in builds.KINDS for name, misfit in MISFITS.items()},
    "hinges": hinges,
    "hinge on hinge": partial(hinges, recipe=joints.folds),
}  # fmt: skip


# What it costs.


@dataclass
class Cost:
    first: float = 0.0
    dial: float = 0.0
    sweeps: int = 0
    solves: int = 0
    as_one: int = 0
    calm: int = 0
    left: int = 0
    cut: float = 0.0

    def and_(self, other: "Cost") -> "Cost":
        return Cost(*map(max, vars(self).values(), vars(other).values()))


@cache
def limits(name: str) -> preset.Fit:
    return preset.parse((_PRESETS / f"{name}.json").read_text(), name).fit


def cost(bricks: Bricks, of: preset.Fit, looseness: float, judged: bool) -> Cost:
    remembered.forget()
    swept: list[int] = []
    closest = repair.closest

    def counted(target, least, most, mobility, rows, sweeps, *more):
        swept.append(sweeps)
        return closest(target, least, most, mobility, rows, sweeps, *more)

    repair.closest = counted
    began = process_time()
    fit.fitted(bricks, of, 1, looseness)
    between, _ = process_time(), swept.clear()
    found = fit.fitted(bricks, of, 2, looseness)
    ended = process_time()
    repair.closest = closest
    cut = overlap.largest_interference(bricks, found.contacts, found.motions)
    if judged:
        cut = max(cut, deepest(bricks, found.motions))
    calm = max(int((found.share < 1.0).sum()), found.held_back)
    return Cost(between - began, ended - between, sum(swept), len(swept), found.as_one, calm, found.cut, cut)


def deepest(bricks: Bricks, motions) -> float:
    """How much deeper (mm) any two bodies, told by their boxes, lie in each other than at rest."""
    rotation = rigid.rotation(motions.turn)
    reach = rigid.turned(bricks.turn[:, None], _CORNERS * (bricks.half_in_part * motions.shrink)[:, None])
    rest = [Hull.around(c + corners) for c, corners in zip(bricks.centre, reach, strict=True)]
    now = [Hull.around(c + s + corners @ turn.T)
           for c, corners, s, turn in zip(bricks.centre, reach, motions.shift, rotation, strict=True)]  # fmt: skip
    found, order = 0.0, np.argsort(bricks.low[:, 2])
    for at, i in enumerate(order.tolist()):
        later = order[at + 1 :]
        later = later[: np.searchsorted(bricks.low[later, 2], bricks.high[i, 2] + 0.3)]
        away = np.abs(bricks.centre[later] - bricks.centre[i]) - bricks.half[later] - bricks.half[i]
        for j in later[(away < 0.3).all(axis=1)].tolist():
            if (now_ := depth(now[i], now[j])) > 0.0:
                found = max(found, now_ - max(depth(rest[i], rest[j]), 0.0))
    return found


def main() -> None:
    given = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given.add_argument("names", nargs="*", metavar="NAME", help="builds whose names begin so; all without")
    given.add_argument("--bricks", nargs="*", type=int, default=SIZES)
    given.add_argument("--presets", nargs="*", default=PRESETS)
    given.add_argument("--judge", action="store_true")
    options = given.parse_args()
    chosen = [name for name in BUILDS if not options.names or name.startswith(tuple(options.names))]
    print(
        f"{'build':24}{'bricks':>7}{'first':>8}{'dial':>8}{'sweeps':>8}{'solves':>8}{'one':>6}{'calm':>6}{'left':>6}{'cut':>11}"
    )
    for name in chosen:
        for size in options.bricks:
            bricks, worst = BUILDS[name](size), Cost()
            for looseness in LOOSENESS:
                for of in options.presets:
                    worst = worst.and_(cost(bricks, limits(of), looseness, options.judge))
            print(f"{name:24}{len(bricks):7}{worst.first:8.3f}{worst.dial:8.3f}{worst.sweeps:8}{worst.solves:8}"
                  f"{worst.as_one:6}{worst.calm:6}{worst.left:6}{worst.cut:11.7f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
