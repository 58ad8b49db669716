"""Right after Bring In by the button, in Blender's own window that still holds its first cube; then what Apply shows.

Run inside the window with the extension installed; whoever opens the window gives `snap(name)`, which takes a picture
once the window has redrawn, and `side_panel(tab)`, which opens the sidebar.
"""

# ruff: noqa: F821  the names above are given

import importlib
import os
import subprocess
import tempfile
from pathlib import Path

import bpy

JOB = os.environ["JOB"]
PACKAGE = "bl_ext.user_default.playworn.addon"


def watched(name: str) -> None:
    """Has a picture taken while Apply is at work, as soon as it reads the textures."""
    look = importlib.import_module(f"{PACKAGE}.usecases.wear.look")
    before = look.images.finding

    def finding(*given):
        look.images.finding = before
        subprocess.run(["import", "-window", "root", f"{JOB}/{name}.png"], check=True)
        return before(*given)

    look.images.finding = finding


def steps():
    folder = Path(tempfile.mkdtemp())
    importlib.import_module(f"{PACKAGE}.demo.export").write_glb(folder / "lighthouse.glb")
    for _ in range(2):
        side_panel("Playworn")
        yield
    side_panel("Playworn")
    yield snap("1_first_scene")

    assert bpy.ops.playworn.bring_in(filepath=str(folder / "lighthouse.glb")) == {"FINISHED"}
    yield
    yield snap("2_brought_in")

    bpy.ops.playworn.brick_colours()
    yield
    yield snap("3_brick_colours")
    bpy.ops.playworn.brick_colours()
    watched("4_at_work")
    bpy.ops.playworn.apply()
    yield
    yield snap("5_applied")
