"""The next version of an export in Blender's own window: Esc at the first step, at the last, then all of it, undone.

Run inside the window as panel.py is.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from pathlib import Path

import bpy

PACKAGE = "bl_ext.user_default.playworn.addon"
CORNERS = [(x, y, z) for z in (0.0, 9.6) for y in (0.0, 16.0) for x in (0.0, 16.0)]
FACES = ((1, 3, 4, 2), (5, 6, 8, 7), (1, 2, 6, 5), (2, 4, 8, 6), (4, 3, 7, 8), (3, 1, 5, 7))
MOST_STEPS = 60  # until a job is done
CHANNELS = ("location", "delta_location", "delta_rotation_euler", "delta_scale")


def written(path: Path, places: list[tuple[float, float]]) -> Path:
    """An .obj of square bricks in millimetres, a wall of three courses over each place."""
    lines, first = [], 0
    for course in range(3):
        for x, y in places:
            lines.append(f"o brick {x:g} {y:g} {course}")
            lines += [f"v {a + x + 8 * (course % 2)} {b + y} {c + 9.6 * course}" for a, b, c in CORNERS]
            lines += ["f " + " ".join(str(first + n) for n in face) for face in FACES]
            first += len(CORNERS)
    path.write_text("\n".join(lines) + "\n")
    return path


def all_of_it() -> tuple:
    things = sorted(bpy.data.objects, key=lambda thing: thing.name)
    stands = [(thing.name, *(tuple(getattr(thing, name)) for name in CHANNELS)) for thing in things]
    animated = [thing.name for thing in things if thing.animation_data and thing.animation_data.action]
    return stands, animated, sorted(bpy.data.collections.keys()), sorted(bpy.data.meshes.keys())


def until(there):
    for _ in range(MOST_STEPS):
        if there():
            return
        yield


def held(updating, reached):
    """The use case with all its steps, and no end: the last one lasts until Esc."""

    def job_of(build, path, keep_objects):
        job = updating(build, path, keep_objects)
        try:
            for said in job:
                reached.append(said)
                yield said
                while said[0] >= 0.95:
                    yield said
        finally:
            job.close()

    return job_of


def watched(updating, ended):
    def job_of(build, path, keep_objects):
        found = yield from updating(build, path, keep_objects)
        ended.append(True)
        return found

    return job_of


def begin(new: Path) -> None:
    assert bpy.ops.playworn.update("INVOKE_DEFAULT", filepath=str(new)) == {"RUNNING_MODAL"}


def steps():
    folder = Path(tempfile.mkdtemp())
    places = [(16.0 * x, 16.0 * y) for x in range(6) for y in range(2)]
    old = written(folder / "wall.obj", places)
    new = written(folder / "wall 2.obj", [*places[1:], (96.0, 0.0)])
    usecases = importlib.import_module(f"{PACKAGE}.usecases")
    yield from old_version(usecases, old)
    before = all_of_it()
    yield from given_up(usecases, new, before)
    yield from new_version(usecases, new, before)


def old_version(usecases, old):
    scene = bpy.context.scene
    side_panel("Playworn")
    yield
    side_panel("Playworn")
    yield
    bpy.ops.playworn.bring_in("INVOKE_DEFAULT", filepath=str(old))
    yield from until(lambda: "wall" in bpy.data.collections and scene.playworn.build)
    assert bpy.ops.playworn.apply() == {"FINISHED"}
    shots = [usecases.OnFrame("a", 1, usecases.Dials(seed=3)), usecases.OnFrame("b", 20, usecases.Dials(3, 0.4))]
    usecases.on_timeline(scene.playworn.build, shots)
    bpy.ops.ed.undo_push(message="shots")
    yield snap("1_old_version")


def given_up(usecases, new, before):
    updating, reached = usecases.updating, []
    begin(new)
    yield press("Escape")
    yield
    yield snap("2_given_up_at_once")
    assert all_of_it() == before
    usecases.updating = held(updating, reached)
    begin(new)
    yield from until(lambda: reached and reached[-1][0] >= 0.95)
    yield snap("3_at_the_last_step")
    assert all_of_it() != before
    yield press("Escape")
    yield
    yield snap("4_given_up_at_last")
    assert all_of_it() == before
    usecases.updating = updating


def new_version(usecases, new, before):
    updating, ended = usecases.updating, []
    usecases.updating = watched(updating, ended)
    begin(new)
    yield from until(lambda: ended)
    usecases.updating = updating
    yield
    yield snap("5_new_version")
    after = all_of_it()
    assert after != before
    assert "wall removed" in bpy.data.collections
    yield press("ctrl+z")
    yield
    yield snap("6_undone")
    assert all_of_it()[0] == before[0]
