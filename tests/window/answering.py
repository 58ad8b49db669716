"""How long Blender's own window stands still while many bricks come in, are applied, dialled and cleared.

Run inside the window as panel.py is, with time for it: 2,000 bricks take minutes on a screen drawn by software. A timer
asks for its turn all the time. For each job are printed the longest turn of ours and of Blender's, in seconds of work,
the longest wait by the clock, and the turns of ours that took longest. What Blender itself takes for drawing as many
bricks stands below. bench/turns.py tells the same without a window.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from collections.abc import Callable
from dataclasses import replace
from math import cos, pi, sin
from pathlib import Path
from time import monotonic, process_time, thread_time

import bpy

BRICKS = 2000
PACKAGE = "bl_ext.user_default.playworn.addon"
BOX = [(x, y, z) for z in (0.0, 9.6) for y in (0.0, 16.0) for x in (0.0, 16.0)]
FACES = ((1, 3, 4, 2), (5, 6, 8, 7), (1, 2, 6, 5), (2, 4, 8, 6), (4, 3, 7, 8), (3, 1, 5, 7))
STUD_MM, TALL_MM = 2.4, 1.7
KINDS = 20  # of bricks, by how round their studs are
COURSES, LENGTH = 20, 25  # of a wall
MOST_STEPS = 800  # until a job is done
STEPS = importlib.import_module(f"{PACKAGE}.ui.steps")
FORMATS = importlib.import_module(f"{PACKAGE}.scene.exports.formats").FORMATS
ASKED_S = 0.005
MOST_TOLD = 6


def stud(x: float, y: float, facets: int) -> tuple[list, list]:
    rings = [
        (x + STUD_MM * cos(2 * pi * n / facets), y + STUD_MM * sin(2 * pi * n / facets), 9.6 + z)
        for z in (0.0, TALL_MM)
        for n in range(facets)
    ]
    sides = [(n + 1, (n + 1) % facets + 1, (n + 1) % facets + 1 + facets, n + 1 + facets) for n in range(facets)]
    return rings, [*sides, tuple(range(facets + 1, 2 * facets + 1)), tuple(range(facets, 0, -1))]


def brick(facets: int) -> tuple[list, list]:
    """Points in millimetres and faces, counted from 1, of a brick with two studs a side."""
    points, faces = list(BOX), list(FACES)
    for x in (4.0, 12.0):
        for y in (4.0, 12.0):
            own, sides = stud(x, y, facets)
            faces += [tuple(n + len(points) for n in side) for side in sides]
            points += own
    return points, faces


def written(path: Path) -> Path:
    """An .obj of walls in running bond."""
    kinds, lines, first = [brick(8 + 2 * n) for n in range(KINDS)], [], 0
    for number in range(BRICKS):
        points, faces = kinds[number % KINDS]
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
    """How long a timer that asks for its turn all the time has to wait for it, and whose work that was.

    Ours is told in seconds of processors, threads of ours with it; Blender's in those of the window's own thread, which
    other threads draw for here: what it does in its own turn, its importer, and bringing the scene up to date in ours.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.found: list[tuple[float, float, float, str]] = []  # waited, ours, Blender's, what was being done
        self.doing, self.last, self.depth = "", (monotonic(), thread_time()), 0
        self.ours, self.within, self.own_thread = 0.0, 0.0, 0.0
        self._asks = self.turn  # by which Blender knows it again

    def __enter__(self) -> "Waits":
        some, go_on, form = self.before = STEPS._some, STEPS.Stepwise._go_on, FORMATS[".obj"]

        def told(*given):
            found = some(*given)
            self.doing = f"{found[1]} {found[0]:.0%}"
            return found

        def update(layer: bpy.types.ViewLayer) -> None:
            del bpy.types.ViewLayer.update
            self.blenders(layer.update) if layer.id_data == bpy.context.scene else layer.update()
            bpy.types.ViewLayer.update = update

        STEPS._some, STEPS.Stepwise._go_on = told, lambda *given: self.counted(lambda: go_on(*given))
        FORMATS[".obj"] = replace(form, load=lambda path: self.blenders(lambda: form.load(path)))
        bpy.types.ViewLayer.update = update
        bpy.app.timers.register(self._asks, first_interval=0.0)
        return self

    def __exit__(self, *_) -> None:
        bpy.app.timers.unregister(self._asks)
        del bpy.types.ViewLayer.update
        STEPS._some, STEPS.Stepwise._go_on, FORMATS[".obj"] = self.before
        self.turn()
        self._tell()

    def turn(self) -> float:
        now = monotonic(), thread_time()
        waited, worked = (now[n] - self.last[n] for n in (0, 1))
        blenders = worked - self.own_thread + self.within
        self.found.append((waited, max(self.ours - self.within, 0.0), max(blenders, 0.0), self.doing))
        self.last, self.ours, self.within, self.own_thread = now, 0.0, 0.0, 0.0
        return ASKED_S

    def counted(self, work: Callable[[], object]) -> object:
        """Does some work of ours."""
        begun, self.depth = (process_time(), thread_time()), self.depth + 1
        try:
            return work()
        finally:
            self.depth -= 1
            if not self.depth:
                self.ours += process_time() - begun[0]
                self.own_thread += thread_time() - begun[1]

    def blenders(self, work: Callable[[], object]) -> None:
        begun = thread_time()
        work()
        self.within += thread_time() - begun

    def _tell(self) -> None:
        whole = [sum(each[n] for each in self.found) for n in range(3)]
        longest = [max(each[n] for each in self.found) for n in range(3)]
        print(f"ANSWERS {self.name}: longest ours {longest[1]:.2f}, Blender's {longest[2]:.2f}, wait {longest[0]:.2f}; "
              f"all {whole[1]:.1f}, {whole[2]:.1f}, {whole[0]:.1f} s, {len(self.found)} turns", flush=True)  # fmt: skip
        self.found.sort(reverse=True, key=lambda each: each[1])
        for waited, ours, blenders, doing in self.found[:MOST_TOLD]:
            print(f"    ours {ours:.2f}, Blender's {blenders:.2f}, waited {waited:.2f}: {doing}", flush=True)


def until(there: Callable[[], bool]):
    for _ in range(MOST_STEPS):
        if there():
            return
        yield
    raise TimeoutError


def watched(name: str, begin: Callable[[], object], there: Callable[[], bool]):
    with Waits(name) as waits:
        waits.counted(begin)
        yield from until(there)
        yield


def drawn_all_the_time():
    """Blender alone: all bricks moved a little and drawn, again and again."""
    things = list(bpy.context.scene.playworn.build.objects)
    with Waits("Blender's own drawing") as waits:
        for number in range(4):
            for thing in things:
                thing.location.x += 0.001 if number % 2 else -0.001
            waits.doing = "moved"
            yield


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
    yield from watched("apply again", lambda: bpy.ops.playworn.apply("INVOKE_DEFAULT"), _is_done)
    with importlib.import_module(f"{PACKAGE}.ui.wear.follow").quietly():
        scene.playworn.rounding = "geometry"
    yield from watched("apply with geometry", lambda: bpy.ops.playworn.apply("INVOKE_DEFAULT"), _is_done)
    yield from watched("dial", lambda: setattr(scene.playworn, "looseness", 0.8), _is_done)
    yield snap("3_rounded")
    yield from watched("clear", lambda: bpy.ops.playworn.clear("INVOKE_DEFAULT"), lambda: "playworn" not in build())
    yield snap("4_cleared")
    yield from drawn_all_the_time()


def _is_done() -> bool:
    return not STEPS.is_at_work()
