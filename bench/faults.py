"""Raises at every line that a job runs through, and compares the file with what it was before.

    python bench/faults.py [JOBS]

A line counts where it stands in scene, nodes or use cases; each is raised at once, the first time that it is reached.
Lines behind the last one that can be undone are told too: the job is then done, and the file must be as after it.
"""

import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from types import FrameType

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

import bpy  # noqa: E402

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.wear.quality import GEOMETRY  # noqa: E402
from tests.blender.scenes import PRESET  # noqa: E402
from tests.blender.shots.test_keys import artists_wall, everything, scene_shots  # noqa: E402

ROOMS = tuple(str(CHECKOUT / "addon" / room) for room in ("scene", "nodes", "usecases"))
DIALS = usecases.Dials(seed=7)
ROUND = replace(DIALS, rounding=GEOMETRY)
OTHER = replace(
    PRESET,
    name="other",
    fit=replace(PRESET.fit, shift_mm=0.09, clearance_mm=0.03),
    wear=replace(PRESET.wear, rounding_mm=0.35),
)
Line = tuple[str, int]


class Raised(Exception):
    """What goes wrong on purpose."""


class Watch:
    """Sees every line of ours; raises at one of them."""

    def __init__(self, at: Line | None = None) -> None:
        self.at, self.seen, self.has_raised = at, dict[Line, None](), False

    def __enter__(self) -> "Watch":
        sys.settrace(self._call)
        return self

    def __exit__(self, *_) -> None:
        sys.settrace(None)

    def _call(self, frame: FrameType, event: str, _arg):
        return self._line if frame.f_code.co_filename.startswith(ROOMS) else None

    def _line(self, frame: FrameType, event: str, _arg):
        if event == "line":
            here = frame.f_code.co_filename, frame.f_lineno
            self.seen[here] = None
            if here == self.at and not self.has_raised:
                self.has_raised = True
                raise Raised(f"at {Path(here[0]).relative_to(CHECKOUT)}:{here[1]}")
        return self._line


def build() -> bpy.types.Collection:
    return bpy.data.collections["build"]


def _worn(dials: usecases.Dials = ROUND, preset=PRESET) -> None:
    artists_wall()
    scene_shots()
    usecases.apply(build(), preset, dials)


def _keyed() -> None:
    _worn()
    usecases.shots_on_timeline(build(), bpy.context.scene)


JOBS: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
    "apply": (artists_wall, lambda: usecases.apply(build(), PRESET, ROUND)),
    "apply another": (_keyed, lambda: usecases.apply(build(), OTHER, DIALS)),
    "dial": (_keyed, lambda: usecases.dial(build(), OTHER, replace(ROUND, looseness=0.4))),
    "dial wear": (_keyed, lambda: usecases.dial_wear(build(), PRESET, replace(ROUND, wear=0.4))),
    "on timeline": (_keyed, lambda: usecases.shots_on_timeline(build(), bpy.context.scene)),
    "off timeline": (_keyed, lambda: usecases.off_timeline(build())),
    "clear": (_keyed, lambda: usecases.clear(build())),
}


def tried(name: str) -> tuple[int, dict[str, list[str]]]:
    """How many lines were raised at, and after which of them which parts of the file were mixed."""
    prepare, job = JOBS[name]

    def ready() -> dict:
        bpy.ops.wm.read_factory_settings(use_empty=True)
        prepare()
        return everything()

    ready()
    with Watch() as watch:
        job()
    done = everything()
    mixed = {}
    for line in list(watch.seen):
        before = ready()
        with Watch(line) as faulty, suppress(Raised):
            job()
        now = everything()
        if faulty.has_raised and now != before and now != done:
            where = f"{Path(line[0]).relative_to(CHECKOUT)}:{line[1]}"
            mixed[where] = [part for part in before if before[part] != now[part]]
    return len(watch.seen), mixed


def main() -> None:
    register()
    try:
        for name in sys.argv[1:] or JOBS:
            count, mixed = tried(name)
            print(f"{name}: {count} lines, {len(mixed)} leave a mixed file", flush=True)
            for where, parts in mixed.items():
                print(f"  {where}: {', '.join(parts)}")
    finally:
        unregister()


if __name__ == "__main__":
    main()
