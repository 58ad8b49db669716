"""A file dropped onto the 3D view of Blender's own window that still holds its first cube.

Run inside the window with the extension installed; whoever opens the window gives `snap(name)`, which takes a picture
once the window has redrawn, `click(x, y)`, and `side_panel(tab)`, which opens the sidebar. The drop comes from
Blender's own file browser, with the pointer.
"""

# ruff: noqa: F821  the names above are given

import importlib
import subprocess
import tempfile
from pathlib import Path

import bpy

PACKAGE = "bl_ext.user_default.playworn.addon"
FILE_AT, DROP_AT = (1640, 358), (600, 420)  # in the browser and in the 3D view, in pixels of the screen
ENTRY_AT = (525, 413)  # in the menu of all that can read the file
DRAG_S = 0.4  # between two moves of the pointer


def area(kind: str) -> bpy.types.Area:
    return next(each for each in bpy.context.window_manager.windows[0].screen.areas if each.type == kind)


def drag(start: tuple[int, int], end: tuple[int, int]) -> None:
    """Drags with the pointer while the window lives on."""
    middle = [(start[n] + end[n]) // 2 for n in range(2)]
    moves = [f"mousemove {start[0]} {start[1]}", "mousedown 1", f"mousemove {start[0] + 12} {start[1] - 12}"]
    moves += [f"mousemove {middle[0]} {middle[1]}", f"mousemove {end[0]} {end[1]}"]
    moves += [f"mousemove {end[0] + 4} {end[1]}", "mouseup 1"]
    subprocess.Popen(["sh", "-c", "; ".join(f"xdotool {move}; sleep {DRAG_S}" for move in moves)])


def steps():
    folder = Path(tempfile.mkdtemp())
    importlib.import_module(f"{PACKAGE}.demo.export").write_glb(folder / "lighthouse.glb")
    side_panel("Playworn")
    browser = area("PROPERTIES")
    browser.type = "FILE_BROWSER"
    yield
    browser.spaces.active.show_region_toolbar = False
    params = browser.spaces.active.params
    params.directory, params.display_type = str(folder).encode(), "LIST_VERTICAL"
    side_panel("Playworn")
    yield
    yield snap("1_browser")
    drag(FILE_AT, DROP_AT)
    for _ in range(4):
        yield
    yield snap("2_dropped")
    yield click(*ENTRY_AT)
    while bpy.context.scene.playworn.build is None:  # brought in step by step
        yield
    for _ in range(4):
        yield
    yield snap("3_brought_in")
