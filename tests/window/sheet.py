"""The contact sheet in Blender's own window, of a file that was never saved; Esc, and all else that is done meanwhile.

Run inside the window as panel.py is.
"""

# ruff: noqa: F821  snap, press, click and side_panel are given

import importlib
import tempfile
from pathlib import Path

import bpy

PACKAGE = "bl_ext.user_default.playworn.addon"
MOST_STEPS = 400  # until the sheet is there


def recent() -> str:
    """The files that Blender offers to open again."""
    path = Path(bpy.utils.user_resource("CONFIG")) / "recent-files.txt"
    return path.read_text() if path.exists() else ""


def steps():
    folder = Path(tempfile.mkdtemp())
    export = importlib.import_module(f"{PACKAGE}.demo.export")
    sheet = importlib.import_module(f"{PACKAGE}.ui.shots.sheet")
    bpy.data.objects.remove(bpy.data.objects["Cube"])
    for _ in range(3):
        side_panel("Playworn")
        yield
    export.write_glb(folder / "lighthouse.glb")
    bpy.ops.playworn.bring_in(filepath=str(folder / "lighthouse.glb"))
    scene = bpy.context.window_manager.windows[0].scene
    scene.render.engine, scene.cycles.device = "CYCLES", "CPU"
    scene.camera.location, scene.camera.data.clip_start = (0.5, -0.6, 0.3), 0.01
    bpy.ops.playworn.apply()
    bpy.ops.playworn.find_shots()
    bpy.ops.playworn.dial_shot_to()
    yield
    before = recent()

    path = folder / "given up.png"
    assert bpy.ops.playworn.save_sheet("INVOKE_DEFAULT", filepath=str(path), wide=4096) == {"RUNNING_MODAL"}
    work = sheet._work
    for _ in range(10):
        yield
    assert not work.is_over
    yield snap("1_rendering")
    bpy.ops.ed.undo_push(message="before")
    scene.playworn.wear = 0.5
    bpy.ops.ed.undo_push(message="after")
    yield
    yield press("ctrl+z")
    yield
    assert bpy.context.window_manager.windows[0].scene.playworn.wear == 1.0, "the window works on, undo too"
    assert not work.is_over
    yield press("Escape")
    yield
    assert work.is_over
    assert not list(folder.glob("*.png"))
    yield snap("2_given_up")

    path = folder / "shots.png"
    assert bpy.ops.playworn.save_sheet("INVOKE_DEFAULT", filepath=str(path), wide=128, samples=1) == {"RUNNING_MODAL"}
    for _ in range(MOST_STEPS):
        if sheet._work is None:
            break
        yield
    yield snap("3_done")
    assert path.stat().st_size > 1000
    assert (bpy.data.filepath, recent()) == ("", before)
    assert bpy.data.is_dirty

    bpy.ops.playworn.save_sheet("INVOKE_DEFAULT")
    yield
    yield snap("4_browser")
