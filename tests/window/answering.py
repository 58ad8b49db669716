"""How long Blender's own window stands still while many bricks come in, are applied, dialled and cleared.

Run inside the window as panel.py is, with time for it: 2,000 bricks take minutes on a screen drawn by software. A timer
asks for its turn all the time; the longest it had to wait, and what was being done then, is printed for each job. What
Blender itself takes for drawing as many bricks stands beside it.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from collections.abc import Callable
from math import cos, pi, sin
from pathlib import Path
from time import monotonic, thread_time

import bpy

BRICKS = 2000
PACKAGE = "bl_ext.user_default.playworn.addon"
BOX = [(x, y, z) for z in (0.0, 9.6) for y in (0.0, 16.0) for x in (0.0, 16.0)]
FACES = ((1, 3, 4, 2), (5, 6, 8, 7), (1, 2, 6, 5), (2, 4, 8, 6), (4, 3, 7, 8), (3, 1, 5, 7))
SIDES, STUD_MM, TALL_MM = 12, 2.4, 1.7
COURSES, LENGTH = 20, 25  # of a wall
MOST_STEPS = 400  # until a job is done
ASKED_S = 0.005
MOST_TOLD = 6


def stud(x: float, y: float) -> tuple[list, list]:
    rings = [
        (x + STUD_MM * cos(2 * pi * n / SIDES), y + STUD_MM * sin(2 * pi * n / SIDES), 9.6 + z)
        for z in (0.0, TALL_MM)
        for n in range(SIDES)
    ]
    sides = [(n + 1, (n + 1) % SIDES + 1, (n + 1) % SIDES + 1 + SIDES, n + 1 + SIDES) for n in range(SIDES)]
    return rings, [*sides, tuple(range(SIDES + 1, 2 * SIDES + 1)), tuple(range(SIDES, 0, -1))]


def brick() -> tuple[list, list]:
    """Points in millimetres and faces, counted from 1, of a brick with two studs a side."""
    points, faces = list(BOX), list(FACES)
    for x in (4.0, 12.0):
        for y in (4.0, 12.0):
            own, sides = stud(x, y)
            faces += [tuple(n + len(points) for n in side) for side in sides]
            points += own
    return points, faces


def written(path: Path) -> Path:
    """An .obj of walls in running bond."""
    (points, faces), lines, first = brick(), [], 0
    for number in range(BRICKS):
        wall, place = divmod(number, COURSES * LENGTH)
        course, n = divmod(place, LENGTH)
        at = 16.0 * n + 8.0 * (course % 2), 32.0 * wall, 9.6 * course
        lines.append(f"o brick.{number}")
        lines += ["v {:g} {:g} {:g}".format(*(a + b for a, b in zip(point, at, strict=True))) for point in points]
        lines += ["f " + " ".join(str(first + n) for n in face) for face in faces]
        first += len(points)
    path.write_text("\n".join(lines) + "\n")
    return path


class Waits:
    """How long a timer that asks for its turn all the time has to wait for it, and what of that was work."""

    def __init__(self) -> None:
        self.found: list[tuple[float, float, str]] = []
        self.doing, self.last = "", (monotonic(), thread_time())
        self._asks = self.turn  # by which Blender knows it again

    def __enter__(self) -> "Waits":
        bpy.app.timers.register(self._asks, first_interval=0.0)
        return self

    def __exit__(self, *_) -> None:
        bpy.app.timers.unregister(self._asks)

    def turn(self) -> float:
        now = monotonic(), thread_time()
        self.found.append((now[0] - self.last[0], now[1] - self.last[1], self.doing))
        self.last = now
        return ASKED_S

    def told(self, name: str) -> None:
        whole, work = (sum(each[n] for each in self.found) for n in (0, 1))
        print(f"ANSWERS {name}: all {whole:.1f} s, {work:.1f} s of work in {len(self.found)} turns", flush=True)
        self.found.sort(reverse=True, key=lambda each: each[1])
        for waited, worked, doing in self.found[:MOST_TOLD]:
            print(f"    {worked:.2f} s of work in {waited:.2f} s: {doing}", flush=True)


def until(there: Callable[[], bool]):
    for _ in range(MOST_STEPS):
        if there():
            return
        yield
    raise TimeoutError


def watched(name: str, begin: Callable[[], object], there: Callable[[], bool]):
    steps = importlib.import_module(f"{PACKAGE}.ui.steps")
    with Waits() as waits:
        some = getattr(steps, "_some", None)

        def telling(*given):
            begun = thread_time()
            try:
                found = some(*given)
            except StopIteration:
                waits.doing = "after the end"
                raise
            waits.doing = f"{found[1]} {found[0]:.0%}, of which ours {thread_time() - begun:.2f}"
            return found

        steps._some = telling
        begin()
        waits.turn()
        yield from until(there)
        yield
        steps._some = some
        waits.turn()
        waits.told(name)


def drawn_all_the_time():
    """Blender alone: all bricks moved a little and drawn, again and again."""
    things = list(bpy.context.scene.playworn.build.objects)
    with Waits() as waits:
        for number in range(4):
            for thing in things:
                thing.location.x += 0.001 if number % 2 else -0.001
            waits.doing = "moved"
            yield
        waits.told("Blender's own drawing")


def steps():
    path = written(Path(tempfile.mkdtemp()) / "walls.obj")
    scene = bpy.context.scene
    side_panel("Playworn")
    yield
    side_panel("Playworn")
    yield

    def build():
        return scene.playworn.build

    yield from watched(
        "bring in",
        lambda: bpy.ops.playworn.bring_in("INVOKE_DEFAULT", filepath=str(path)),
        lambda: build() is not None,
    )
    yield snap("1_brought_in")
    yield from watched("apply", lambda: bpy.ops.playworn.apply("INVOKE_DEFAULT"), lambda: "playworn" in build())
    yield snap("2_applied")
    yield from watched("apply again", lambda: bpy.ops.playworn.apply("INVOKE_DEFAULT"), lambda: not _at_work())
    with importlib.import_module(f"{PACKAGE}.ui.wear.follow").quietly():
        scene.playworn.rounding = "geometry"
    yield from watched("apply with geometry", lambda: bpy.ops.playworn.apply("INVOKE_DEFAULT"), lambda: not _at_work())
    yield from watched("clear", lambda: bpy.ops.playworn.clear("INVOKE_DEFAULT"), lambda: "playworn" not in build())
    yield snap("3_cleared")
    yield from drawn_all_the_time()


def _at_work() -> bool:
    return getattr(importlib.import_module(f"{PACKAGE}.ui.steps"), "is_at_work", lambda: False)()
