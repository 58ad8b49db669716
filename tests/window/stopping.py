"""Esc at every moment of Apply, Clear and Bring In, in Blender's own window: the file is as it was. And whatever else
wants the file meanwhile: undo, save, another operator, a second window, the extension switched off.

Run inside the window as panel.py is.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from pathlib import Path

import bpy

PACKAGE = "bl_ext.user_default.playworn"
CORNERS = [(x, y, z) for z in (0.0, 9.6) for y in (0.0, 16.0) for x in (0.0, 16.0)]
FACES = ((1, 3, 4, 2), (5, 6, 8, 7), (1, 2, 6, 5), (2, 4, 8, 6), (4, 3, 7, 8), (3, 1, 5, 7))
MOST_STEPS = 60  # until a job is done
CHANNELS = ("location", "delta_location", "delta_rotation_euler", "delta_scale")
KINDS = ("objects", "meshes", "materials", "images", "node_groups", "collections", "actions", "scenes", "worlds")


def written(path: Path) -> Path:
    """An .obj of square bricks in millimetres, a wall of three courses over each place."""
    lines, first = [], 0
    for course in range(3):
        for x, y in ((16.0 * x, 16.0 * y) for x in range(6) for y in range(2)):
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
        "names": {kind: sorted(block.name for block in getattr(bpy.data, kind)) for kind in KINDS},
        "stands": [(thing.name, *(tuple(getattr(thing, name)) for name in CHANNELS)) for thing in things],
        "raw": [(thing.name, raw(thing)) for thing in things],
        "shown": [(thing.name, thing.data and thing.data.name, thing.select_get()) for thing in things],
        "slots": [(mesh.name, [each and each.name for each in mesh.materials]) for mesh in bpy.data.meshes],
        "nodes": [(tree.id_data.name, sorted(tree.nodes.keys()), len(tree.links)) for tree in trees],
        "builds": [(room.name, "playworn" in room) for room in bpy.data.collections],
        "chosen": (bpy.context.scene.playworn.preset, bpy.context.scene.playworn.rounding),
    }


def until(there):
    for _ in range(MOST_STEPS):
        if there():
            return
        yield
    raise TimeoutError


class Held:
    """A job that waits for Esc once it has told so many different things."""

    def __init__(self, name: str) -> None:
        self.usecases = importlib.import_module(f"{PACKAGE}.addon.usecases")
        self.name, self.job = name, getattr(self.usecases, name)
        self.told, self.at, self.is_there = [], 0, False

    def __call__(self, *given):
        self.told, self.is_there = [], False
        return self._steps(self.job(*given))

    def _steps(self, steps):
        try:
            while True:
                said = next(steps)
                if said not in self.told:
                    self.told.append(said)
                yield said
                while len(self.told) == self.at:
                    self.is_there = True
                    yield said
        except StopIteration as end:
            return end.value
        finally:
            steps.close()

    def __enter__(self) -> "Held":
        setattr(self.usecases, self.name, self)
        return self

    def __exit__(self, *_) -> None:
        setattr(self.usecases, self.name, self.job)


def given_up_all_along(name: str, begin):
    """Esc at the first moment of a job at which it tells something, at the next, and so on; then all of it."""
    before = all_of_it()
    with Held(name) as held:
        while True:
            held.at += 1
            assert begin() in ({"RUNNING_MODAL"}, {"FINISHED"})
            yield from until(lambda: held.is_there or not at_work())
            if not held.is_there:
                break
            if held.at == 4:
                yield snap(f"{name}_held")
            yield press("Escape")
            yield
            now = all_of_it()
            changed = [part for part in now if now[part] != before[part]]
            print(f"GIVEN UP {name} at {held.told[-1]}: {changed}", flush=True)
            assert not changed
            assert not at_work()
    assert held.at > 4
    yield snap(f"{name}_done")
    assert all_of_it() != before


def at_work() -> bool:
    return importlib.import_module(f"{PACKAGE}.addon.ui.steps").is_at_work()


def steps():
    path = written(Path(tempfile.mkdtemp()) / "wall.obj")
    side_panel("Playworn")
    yield
    side_panel("Playworn")
    yield

    def bring_in():
        return bpy.ops.playworn.bring_in("INVOKE_DEFAULT", filepath=str(path))

    def apply():
        return bpy.ops.playworn.apply("INVOKE_DEFAULT")

    def clear():
        return bpy.ops.playworn.clear("INVOKE_DEFAULT")

    yield from given_up_all_along("bringing_in", bring_in)
    yield from given_up_all_along("applying", apply)
    yield from meanwhile(apply)
    yield from given_up_all_along("clearing", clear)
    yield from switched_off(apply)


def meanwhile(apply):
    """What gets in between: the file is as it was before, and nothing of ours begins."""
    bpy.ops.ed.undo_push(message="before")
    before, target = all_of_it(), Path(tempfile.mkdtemp()) / "saved.blend"
    with Held("applying") as held:
        for name, other in {
            "save": lambda: bpy.ops.wm.save_as_mainfile(filepath=str(target), copy=True),
            "undo": bpy.ops.ed.undo_history,
        }.items():
            held.at = 8
            apply()
            yield from until(lambda: held.is_there)
            assert not bpy.ops.playworn.clear.poll()
            assert not bpy.ops.playworn.bring_in.poll()
            if name == "undo":
                bpy.ops.ed.undo_push(message="now")
                bpy.ops.ed.undo()
            else:
                other()
            assert not at_work(), name
            yield
            yield
            now = all_of_it()
            print(f"MEANWHILE {name}: {[part for part in now if now[part] != before[part]]}", flush=True)
        assert target.exists()
        bpy.ops.wm.window_new()
        yield
        apply()
        yield from until(lambda: held.is_there)
        yield snap("second_window")
        yield press("Escape")
        yield
        assert not at_work()
        assert all_of_it() == before
    with bpy.context.temp_override(window=bpy.context.window_manager.windows[-1]):
        bpy.ops.wm.window_close()
    yield


def switched_off(apply):
    before = all_of_it()
    with Held("applying") as held:
        held.at = 8
        apply()
        yield from until(lambda: held.is_there)
        bpy.ops.preferences.addon_disable(module=PACKAGE)
        yield
    yield snap("switched_off")
    bpy.ops.preferences.addon_enable(module=PACKAGE)
    yield
    now = all_of_it()
    print(f"SWITCHED OFF: {[part for part in now if now[part] != before[part]]}", flush=True)
    assert {part: now[part] for part in now if part != "chosen"} == {
        part: before[part] for part in before if part != "chosen"
    }
