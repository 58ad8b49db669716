"""Another preset chosen by the mouse for a worn build, in Blender's own window: Esc, then all of it, then undone.

Run inside the window as panel.py is.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from pathlib import Path

import bpy

PACKAGE = "bl_ext.user_default.playworn.addon"
CHOICE = (1398, 219)  # where the presets open, in pixels of the screen
MOST_STEPS = 60  # until a job is done


def stands() -> list[tuple]:
    return [tuple(thing.delta_location) for thing in sorted(bpy.data.objects, key=lambda thing: thing.name)]


def at_work() -> bool:
    return importlib.import_module(f"{PACKAGE}.ui.steps").is_at_work()


def until(there):
    for _ in range(MOST_STEPS):
        if there():
            return
        yield
    raise TimeoutError


def choose_the_next():
    """Opens the list and takes the preset below the chosen one."""
    yield click(*CHOICE)
    yield
    yield press("Down")
    yield press("Return")


def held_before_its_end(usecases, wanted: list[bool]):
    applying = usecases.applying

    def held(*given):
        steps = applying(*given)
        try:
            while True:
                told = next(steps)
                yield told
                while wanted and told[0] >= 0.9:
                    yield told
        except StopIteration as end:
            return end.value
        finally:
            steps.close()

    return held


def steps():
    usecases = importlib.import_module(f"{PACKAGE}.usecases")
    path = Path(tempfile.mkdtemp()) / "lighthouse.glb"
    importlib.import_module(f"{PACKAGE}.demo.export").write_glb(path)
    side_panel("Playworn")
    yield
    side_panel("Playworn")
    yield
    assert bpy.ops.playworn.bring_in(filepath=str(path)) == {"FINISHED"}
    for thing in bpy.data.objects:  # nothing but the panel has to be drawn
        thing.hide_set(True)
    assert bpy.ops.playworn.apply("EXEC_DEFAULT", True) == {"FINISHED"}
    yield
    yield snap("1_applied")
    settings, before, wanted = bpy.context.scene.playworn, stands(), [True]
    first = settings.preset
    usecases.applying = held_before_its_end(usecases, wanted)
    yield from choose_the_next()
    yield from until(at_work)
    yield snap("2_at_work")
    assert settings.preset == first, "the panel shows what is on the build"
    yield press("Escape")
    yield
    assert not at_work()
    assert (settings.preset, stands()) == (first, before)
    yield snap("3_given_up")
    wanted.clear()
    yield from choose_the_next()
    yield from until(lambda: settings.preset != first)
    yield
    yield snap("4_chosen")
    assert stands() != before
    assert settings.preset == usecases.recall(settings.build).preset.name
    yield press("ctrl+z")
    yield
    yield snap("5_undone")
    settings = bpy.context.scene.playworn
    assert (settings.preset, usecases.recall(settings.build).preset.name, stands()) == (first, first, before)
