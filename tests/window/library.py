"""The library's pop-over in Blender's own window: presets of one's own get their pictures while the window works on.

Run inside the window as panel.py is.
"""

# ruff: noqa: F821  snap, press, click and side_panel are given

import importlib

import bpy

PACKAGE = "bl_ext.user_default.playworn.addon"
SIDEBAR_STEPS = 2  # redraws until a newly opened tab is there
MOST_STEPS = 150  # until both pictures are there


def steps():
    darkroom, library = (
        importlib.import_module(f"{PACKAGE}.{name}") for name in ("ui.presets.darkroom", "scene.presets.library")
    )
    for _ in range(SIDEBAR_STEPS):
        side_panel("Playworn")
        yield
    for name in ("attic", "toy-box"):
        bpy.context.scene.playworn.preset = name
        assert bpy.ops.playworn.save_preset(name=f"{name}-at-sea") == {"FINISHED"}
    yield
    assert darkroom.under_way(), "it has begun, and this goes on"
    bpy.ops.wm.call_panel(name="PLAYWORN_PT_library")
    yield
    yield snap("library_1_rendering")

    for _ in range(MOST_STEPS):
        if not darkroom.under_way():
            break
        yield
    assert not darkroom.problem, darkroom.problem
    assert sorted(path.stem for path in library.own_folder().glob("*.png")) == ["attic-at-sea", "toy-box-at-sea"]
    yield press("Escape")
    bpy.ops.wm.call_panel(name="PLAYWORN_PT_library")
    yield
    yield snap("library_2_rendered")

    yield press("Escape")
    bpy.ops.playworn.edit_preset(name="loft")
    assert (library.own_folder() / "loft.png").is_file()
    bpy.ops.playworn.delete_preset()
    assert not (library.own_folder() / "loft.png").exists()
    bpy.ops.playworn.restore_preset(name="loft")
    assert (library.own_folder() / "loft.png").is_file()
    assert not darkroom.under_way(), "the look is the same, so its picture still is"
