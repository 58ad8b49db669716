"""How long the window waits for its turn while bricks come in, are applied, dialled and cleared: the longest turn.

    python bench/turns.py [BRICKS] [--jobs JOB ...] [--told 5]

Each job goes through its steps as its operator does in the window, which gets its turn in between: here Blender brings
the scene up to date, as it would before it draws. Told apart are the longest turn of ours and the longest of Blender's,
in seconds of processors, the clock's in brackets, with what was being done and between which lines. What is drawn is
not in it: tests/window/answering.py tells that, in the window itself. The build is a stranger's (bench/ways).
"""

import argparse
import gc
import sys
import tempfile
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from pathlib import Path
from resource import RUSAGE_SELF, getrusage
from time import perf_counter, process_time

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from addon import register, unregister, usecases
from addon.core.slices import slicing
from addon.ui import steps as window
from bench.ways.files import text
from bench.ways.layouts import baked
from bench.ways.parts import Style
from bench.ways.workshop import workshop

JOBS = ("bring in", "apply", "apply again", "apply with geometry", "apply another with geometry", "dial", "clear")


@dataclass(frozen=True)
class Took:
    """Seconds of processors, and those of the clock."""

    work: float
    clock: float

    def __str__(self) -> str:
        return f"{self.work:.2f} ({self.clock:.2f})"


@dataclass(frozen=True)
class Turn:
    ours: Took
    blenders: Took
    doing: str


def timed(work: Callable) -> Took:
    begun = process_time(), perf_counter()
    work()
    return Took(process_time() - begun[0], perf_counter() - begun[1])


def line(steps: Generator) -> str:
    """Where steps rest: the innermost of what they wait for."""
    frame = steps.gi_frame
    if frame is None:
        return "-"
    inner = steps.gi_yieldfrom or frame.f_locals.get("parts") or frame.f_locals.get("steps")
    return line(inner) if isinstance(inner, Generator) else f"{Path(frame.f_code.co_filename).name}:{frame.f_lineno}"


def turns(steps: usecases.Steps) -> Iterator[Turn]:
    """The turns of a job, as an operator takes them."""
    fair, goes_on, said = 0.0, True, ""
    while goes_on:

        def some() -> None:
            nonlocal goes_on, said
            try:
                with slicing():
                    said = window._some(steps, fair)[1]
            except StopIteration:
                goes_on = False

        before = line(steps)
        ours = timed(some)
        blenders = timed(bpy.context.view_layer.update)
        fair = window._OF_ITS_TURN * blenders.clock
        yield Turn(ours, blenders, f"{said}, {before} to {line(steps)}")


def tell(name: str, taken: list[Turn], most: int) -> None:
    ours, blenders = ([getattr(turn, whose) for turn in taken] for whose in ("ours", "blenders"))
    longest = [max(each, key=lambda took: took.work) for each in (ours, blenders)]
    whole = [Took(sum(took.work for took in each), sum(took.clock for took in each)) for each in (ours, blenders)]
    peak = getrusage(RUSAGE_SELF).ru_maxrss >> 10
    print(f"{name:28}{len(taken):>6}  ours {longest[0]!s:14} of {whole[0]!s:18}  "
          f"Blender's {longest[1]!s:14} of {whole[1]!s:18}  {peak:>6} MiB", flush=True)  # fmt: skip
    for turn in sorted(taken, key=lambda turn: -turn.ours.work)[:most]:
        print(f"    {turn.ours!s:14} {turn.doing}")


def written(count: int) -> Path:
    path = Path(tempfile.mkdtemp()) / "workshop.obj"
    text.obj(baked(workshop(count), Style(clearance=0.1)).written_in(1.0, y_up=True), path)
    return path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("bricks", type=int, nargs="?", default=2000)
    parser.add_argument("--jobs", nargs="+", choices=JOBS, default=JOBS)
    parser.add_argument("--told", type=int, default=0)
    asked = parser.parse_args()
    path = written(asked.bricks)
    bpy.ops.wm.read_factory_settings(use_empty=True)
    round_, first, other = usecases.Dials(rounding="geometry"), *map(usecases.find_preset, ("well-loved", "toy-box"))
    build = usecases.bring_in(path) if "bring in" not in asked.jobs else None

    def dialled() -> usecases.Steps:
        usecases.dial(build, other, usecases.Dials(seed=2, rounding="geometry"))
        return
        yield

    begin = {
        "bring in": lambda: usecases.bringing_in([path]),
        "apply": lambda: usecases.applying(build, first, usecases.Dials()),
        "apply again": lambda: usecases.applying(build, first, usecases.Dials()),
        "apply with geometry": lambda: usecases.applying(build, first, round_),
        "apply another with geometry": lambda: usecases.applying(build, other, round_),
        "dial": dialled,
        "clear": lambda: usecases.clearing(build),
    }
    print(f"Blender {bpy.app.version_string}, {asked.bricks} bricks")
    for name in asked.jobs:
        gc.collect()
        tell(name, list(turns(begin[name]())), asked.told)
        build = build or next(iter(usecases.builds(bpy.context.scene)))


if __name__ == "__main__":
    register()
    try:
        main()
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
