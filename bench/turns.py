"""How long the window waits for its turn while bricks come in, are applied, dialled, updated, cleared.

    python bench/turns.py [BRICKS] [--jobs JOB ...] [--told 5] [--busy]

Each job goes through its steps as its operator does in the window, which gets its turn in between: here Blender brings
the scene up to date, as it would before it draws. Told apart are the longest turn of ours, with and without what
Blender does within it, and Blender's longest, in seconds of processors, the clock's in brackets, and all together.
Blender's is what it does in its own turn, its own importer, and bringing the scene up to date within a turn of ours.
What it draws is not in it, that tests/window/answering.py tells in the window itself. A stranger's build (bench/ways),
as an .obj; where it is not to be brought in, a town of bricks (bench/builds) that stands there. On a machine that is
busy with other work, too, turns are as long by the processor as they would be by the clock (--busy).
"""

import argparse
import gc
import sys
import tempfile
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from resource import RUSAGE_SELF, getrusage
from time import perf_counter, process_time
from typing import Any, cast

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from addon import register, unregister, usecases
from addon.blender import context
from addon.core import slices
from addon.core.slices import slicing
from addon.scene.exports.formats import FORMATS
from addon.ui import steps as window
from bench import builds
from bench.fit_in_blender import build_of
from bench.ways.files import text
from bench.ways.layouts import baked
from bench.ways.parts import Style
from bench.ways.workshop import workshop

STYLE = Style(clearance=0.1, hollow=False, facets=8)
Steps = Generator[tuple[float, str], None, Any]
JOBS = (
    "bring in", "apply", "apply again", "apply with geometry", "apply another with geometry", "dial", "update",
    "update again", "clear",
)  # fmt: skip


@dataclass(frozen=True)
class Took:
    """Seconds of processors, and those of the clock."""

    work: float = 0.0
    clock: float = 0.0

    @classmethod
    def now(cls) -> "Took":
        return cls(process_time(), perf_counter())

    def __sub__(self, other: "Took") -> "Took":
        return Took(self.work - other.work, self.clock - other.clock)

    def __add__(self, other: "Took") -> "Took":
        return Took(self.work + other.work, self.clock + other.clock)

    def __str__(self) -> str:
        return f"{self.work:.2f} ({self.clock:.2f})"


@dataclass(frozen=True)
class Turn:
    ours: Took
    whole: Took  # with what Blender did in it
    blenders: list[Took]
    doing: str


class Blender:
    """What Blender takes for itself, turn by turn."""

    def __init__(self) -> None:
        self.took: list[Took] = []
        self._begun: Took | None = None  # bringing the scene up to date
        self._is_asked = False

    def does(self, work: Callable[[], object]) -> Took:
        begun, self._is_asked = Took.now(), True
        try:
            work()
        finally:
            self._is_asked = False
        self.took.append(Took.now() - begun)
        return self.took[-1]

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Within a turn of ours it is told apart: its importer, and bringing the scene that is shown up to date."""
        form, handlers = FORMATS[".obj"], bpy.app.handlers

        def begins(scene: bpy.types.Scene, *_: object) -> None:
            if not self._is_asked and scene == context().scene:
                self._begun = Took.now()

        def ends(scene: bpy.types.Scene, *_: object) -> None:
            if self._begun is not None and scene == context().scene:
                self.took.append(Took.now() - self._begun)
                self._begun = None

        FORMATS[".obj"] = replace(form, load=lambda path: self.does(lambda: form.load(path)) and None)
        handlers.depsgraph_update_pre.append(begins)
        handlers.depsgraph_update_post.append(ends)
        try:
            yield
        finally:
            handlers.depsgraph_update_pre.remove(begins)
            handlers.depsgraph_update_post.remove(ends)
            FORMATS[".obj"] = form


def turns(steps: Any, is_busy: bool) -> Iterator[Turn]:
    """The turns of a job, as an operator takes them."""
    last, said, blender = Took(), "", Blender()
    with blender.watched():
        while steps.gi_frame is not None:
            blender.took, before, begun = [], _line(steps), Took.now()
            said = _some(steps, window._OF_ITS_TURN * (last.work if is_busy else last.clock)) or said
            whole = Took.now() - begun
            ours = whole - sum(blender.took, Took())
            last = blender.does(context().view_layer.update)
            yield Turn(ours, whole, blender.took, f"{said}, {before} to {_line(steps)}")


def _some(steps: Steps, fair_s: float) -> str:
    try:
        with slicing():
            return window._some(steps, fair_s)[1]
    except StopIteration:
        return ""


def _line(steps: Any) -> str:
    """Where steps rest: the innermost of what they wait for."""
    frame = steps.gi_frame
    if frame is None:
        return "the end"
    inner = steps.gi_yieldfrom or frame.f_locals.get("parts") or frame.f_locals.get("steps")
    return _line(inner) if isinstance(inner, Generator) else f"{Path(frame.f_code.co_filename).name}:{frame.f_lineno}"


def tell(name: str, taken: list[Turn], most: int) -> None:
    told = f"{name:28}{len(taken):>6} turns"
    for whose, took in (
        ("ours", [turn.ours for turn in taken]),
        ("with Blender's within", [turn.whole for turn in taken]),
        ("Blender's", [each for turn in taken for each in turn.blenders]),
    ):
        longest, whole = max(took, key=lambda each: each.work), sum(took, Took())
        told += f"   {whose} {longest!s:14} of {whole!s:18}"
    print(f"{told}{getrusage(RUSAGE_SELF).ru_maxrss >> 10:>8} MiB", flush=True)
    for turn in sorted(taken, key=lambda turn: -turn.ours.work)[:most]:
        print(f"    {turn.ours!s:14} {turn.doing}")


def written(folder: str, count: int) -> list[Path]:
    """A build, its next version with another tenth of bricks, and the one after that."""
    bricks, paths = workshop(count + count // 5), []
    for number in range(3):
        paths.append(Path(folder) / f"workshop {number}.obj")
        first = number * count // 10
        some = baked(bricks[: first // 2] + bricks[first : first // 2 + count], STYLE)
        text.obj(some.written_in(1.0, y_up=True), paths[-1])
    return paths


def jobs(paths: list[Path]) -> dict[str, Callable[[], Steps]]:
    round_, first, other = usecases.Dials(rounding="geometry"), *map(usecases.find_preset, ("well-loved", "toy-box"))

    def build() -> bpy.types.Collection:
        return usecases.builds(context().scene)[0]

    def dialled() -> Steps:
        yield 0.0, "dialling"
        return usecases.dial(build(), other, replace(round_, seed=2))

    return {
        "bring in": lambda: usecases.bringing_in(paths[:1]),
        "apply": lambda: usecases.applying(build(), first, usecases.Dials()),
        "apply again": lambda: usecases.applying(build(), first, usecases.Dials()),
        "apply with geometry": lambda: usecases.applying(build(), first, round_),
        "apply another with geometry": lambda: usecases.applying(build(), other, round_),
        "dial": dialled,
        "update": lambda: usecases.updating(build(), paths[1]),
        "update again": lambda: usecases.updating(build(), paths[2]),
        "clear": lambda: usecases.clearing(build()),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("bricks", type=int, nargs="?", default=2000)
    parser.add_argument("--jobs", nargs="+", choices=JOBS, default=JOBS)
    parser.add_argument("--told", type=int, default=0)
    parser.add_argument("--busy", action="store_true")
    asked = parser.parse_args()
    if asked.busy:
        for module in (slices, window):
            cast(Any, module).monotonic = process_time
    bpy.ops.wm.read_factory_settings(use_empty=True)
    print(f"Blender {bpy.app.version_string}, {asked.bricks} bricks")
    with tempfile.TemporaryDirectory() as folder:
        is_brought = "bring in" in asked.jobs
        if not is_brought:
            build_of(builds.city(asked.bricks))
        begin = jobs(written(folder, asked.bricks) if is_brought else [])
        for name in asked.jobs:
            gc.collect()
            tell(name, list(turns(begin[name](), asked.busy)), asked.told)


if __name__ == "__main__":
    register()
    try:
        main()
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
