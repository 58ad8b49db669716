"""Esc while another Blender tries a file, in Blender's own window; then the same file without it.

Run inside the window as panel.py is.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from pathlib import Path

import bpy

PACKAGE = "bl_ext.user_default.playworn.addon"
BUILD = """ply
format ascii 1.0
element vertex 8
property float x
property float y
property float z
element face 6
property list uchar int vertex_indices
end_header
0 0 0
16 0 0
16 16 0
0 16 0
0 0 9.6
16 0 9.6
16 16 9.6
0 16 9.6
4 0 3 2 1
4 4 5 6 7
4 0 1 5 4
4 1 2 6 5
4 2 3 7 6
4 3 0 4 7
"""
MOST_STEPS = 40  # until the file is in


def steps():
    path = Path(tempfile.mkdtemp()) / "brick.ply"
    path.write_text(BUILD)
    trial = importlib.import_module(f"{PACKAGE}.scene.exports.trial")
    side_panel("Playworn")
    yield
    side_panel("Playworn")
    yield
    whole, before = trial._command, {*bpy.data.objects}
    trial._command = lambda _: ["sleep", "600"]
    assert bpy.ops.playworn.bring_in("INVOKE_DEFAULT", filepath=str(path)) == {"RUNNING_MODAL"}
    yield snap("1_trying")
    yield press("Escape")
    yield
    yield snap("2_given_up")
    assert {*bpy.data.objects} == before
    trial._command = whole
    assert bpy.ops.playworn.bring_in("INVOKE_DEFAULT", filepath=str(path)) == {"RUNNING_MODAL"}
    for _ in range(MOST_STEPS):
        yield
        if "brick" in bpy.data.collections:
            break
    yield snap("3_brought_in")
    assert "brick" in bpy.data.collections
