"""The next version of an export in Blender's own window: Esc at every moment of it, then all of it, undone.

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
LEAST_MOMENTS, MOST_MOMENTS, LAST = 10, 60, 0.95
PICTURED = (10, 16)
CHANNELS = ("location", "delta_location", "delta_rotation_euler", "delta_scale")
KINDS = ("objects", "meshes", "materials", "images", "node_groups", "collections", "actions", "scenes", "worlds")


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


def raw(owner) -> dict:
    return {name: str(owner[name]) for name in sorted(owner.keys()) if name.startswith("playworn_")}


def all_of_it() -> dict:
    things = sorted(bpy.data.objects, key=lambda thing: thing.name)
    trees = [material.node_tree for material in bpy.data.materials if material.node_tree]
    return {
        "stands": [(thing.name, *(tuple(getattr(thing, name)) for name in CHANNELS)) for thing in things],
        "animated": [thing.name for thing in things if thing.animation_data and thing.animation_data.action],
        "names": {kind: sorted(block.name for block in getattr(bpy.data, kind)) for kind in KINDS},
        "raw": [(owner.name, raw(owner)) for owner in (*things, *bpy.data.collections, *bpy.data.scenes)],
        "shown": [
            (thing.name, thing.data and thing.data.name, thing.hide_get(), thing.select_get()) for thing in things
        ],
        "rooms": [(room.name, sorted(room.objects.keys())) for room in bpy.data.collections],
        "slots": [(mesh.name, [each and each.name for each in mesh.materials]) for mesh in bpy.data.meshes],
        "nodes": [(tree.id_data.name, sorted(tree.nodes.keys()), len(tree.links)) for tree in trees],
    }


def until(there):
    for _ in range(MOST_STEPS):
        if there():
            return
        yield


def given_up_all_along(usecases, begin):
    """Esc at the first moment of the update at which it tells something, at the next, and so on."""
    updating, before = usecases.updating, all_of_it()
    told, at, is_there = [], 0, False

    def held(*given):
        """All steps, and none behind the one at which Esc is waited for."""
        nonlocal is_there
        job, said = updating(*given), None
        told.clear()
        try:
            while True:
                said = next(job)
                if said not in told:
                    told.append(said)
                yield said
                while len(told) == at:
                    is_there = True
                    yield said
        except StopIteration as end:
            return end.value
        finally:
            job.close()

    def there() -> bool:
        return is_there

    usecases.updating = held
    for number in range(1, MOST_MOMENTS):
        at, is_there = number, False
        assert begin() == {"RUNNING_MODAL"}
        yield from until(there)
        if number in PICTURED:
            yield snap(f"held_{number}")
        yield press("Escape")
        yield
        now = all_of_it()
        changed = [part for part in now if now[part] != before[part]]
        print(f"GIVEN UP at {told[-1]}: {changed}", flush=True)
        assert not changed
        if told[-1][0] >= LAST:
            break
    usecases.updating = updating
    assert number >= LEAST_MOMENTS


def steps():
    folder = Path(tempfile.mkdtemp())
    places = [(16.0 * x, 16.0 * y) for x in range(6) for y in range(2)]
    old = written(folder / "wall.obj", places)
    new = written(folder / "wall 2.obj", [*places[1:], (96.0, 0.0)])
    usecases = importlib.import_module(f"{PACKAGE}.usecases")
    updating, scene = usecases.updating, bpy.context.scene
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
    before = all_of_it()

    def begin():
        return bpy.ops.playworn.update("INVOKE_DEFAULT", filepath=str(new))

    yield from given_up_all_along(usecases, begin)
    yield snap("2_given_up")
    ended = []

    def watched(build, path, keep_objects, keep_alpha):
        found = yield from updating(build, path, keep_objects, keep_alpha)
        ended.append(True)
        return found

    usecases.updating = watched
    assert bpy.ops.playworn.update("INVOKE_DEFAULT", filepath=str(new)) == {"RUNNING_MODAL"}
    yield from until(lambda: ended)
    usecases.updating = updating
    yield
    yield snap("3_new_version")
    after = all_of_it()
    assert after != before
    assert "wall removed" in bpy.data.collections
    yield press("ctrl+z")
    yield
    yield snap("4_undone")
    assert all_of_it()["stands"] == before["stands"]
