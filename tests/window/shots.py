"""The shots of the panel in Blender's own window, on the demo's lighthouse before three cameras.

Run as `panel.py` is.
"""

# ruff: noqa: F821  what whoever opens the window gives

import importlib
import tempfile
from pathlib import Path

import bpy
from mathutils import Vector

PACKAGE = "bl_ext.user_default.playworn.addon"
FIT, WEAR, SHOTS = (1340, 308), (1340, 334), (1340, 360)  # the headings, those above being closed
DIALS, PASSES = (1340, 729), (1340, 755)  # the same, once the shots are measured and the chosen one has a long note
TABLE = (1527, 550)  # the button beside Measure
LOCK = (1488, 397)  # of the first row
TICK, OK = (1067, 790), (1295, 844)  # in the dialogue of copying
CAMERAS = (("wide", 2.2, 50.0, 1), ("medium", 1.0, 50.0, 60), ("macro", 0.55, 100.0, 140))  # far, in mm, from frame


def window() -> bpy.types.Window:
    return bpy.context.window_manager.windows[0]


def redraw() -> None:
    for area in window().screen.areas:
        area.tag_redraw()


def pressed(x: int, y: int):
    """A click as a hand does it: over the button first, which Blender waits for."""
    yield click(x, y, 9)  # a button of the mouse that means nothing here
    yield click(x, y)
    yield


def dress(scene: bpy.types.Scene, build: bpy.types.Collection) -> None:
    """Cameras on the build, each bound to a marker; how far they stand is in lengths of the build."""
    bpy.context.view_layer.update()
    corners = [thing.matrix_world @ Vector(corner) for thing in build.all_objects for corner in thing.bound_box]
    low = Vector([min(corner[axis] for corner in corners) for axis in range(3)])
    high = Vector([max(corner[axis] for corner in corners) for axis in range(3)])
    for name, far, lens, frame in CAMERAS:
        data = bpy.data.cameras.new(name)
        data.lens, data.clip_start = lens, 0.001
        thing = bpy.data.objects.new(f"{name} camera", data)
        scene.collection.objects.link(thing)
        away = Vector((0.5, -1.0, 0.25)).normalized() * far * (high - low).length
        thing.location = 0.5 * (low + high) + away
        thing.rotation_euler = (-away).to_track_quat("-Z", "Y").to_euler()
        scene.timeline_markers.new(name, frame=frame).camera = scene.camera = thing


def steps():
    scene = window().scene
    for thing in list(bpy.data.objects):
        bpy.data.objects.remove(thing)
    for _ in range(3):  # redraws until the new tab is there
        side_panel("Playworn")
        yield
    usecases = importlib.import_module(f"{PACKAGE}.usecases")
    export = importlib.import_module(f"{PACKAGE}.demo.export")
    path = Path(tempfile.mkdtemp()) / "lighthouse.glb"
    export.write_glb(path)
    bpy.ops.playworn.bring_in(filepath=str(path))
    dress(scene, scene.playworn.build)
    for area in window().screen.areas:
        if area.type == "VIEW_3D":
            area.spaces.active.region_3d.view_perspective = "CAMERA"
            area.spaces.active.overlay.show_relationship_lines = False
    bpy.ops.playworn.apply()
    redraw()
    yield
    for heading in (FIT, WEAR, SHOTS):
        yield click(*heading)
    for _ in range(3):  # the box opens in one redraw and asks for the list, which the next one shows
        redraw()
        yield
    assert len(scene.playworn.shots.rows) == len(CAMERAS), "the markers' shots are listed without a click"
    yield snap("1_unmeasured")

    group = scene.playworn.shots
    group.number = 2
    bpy.ops.playworn.measure_shots()
    redraw()
    yield
    yield snap("2_measured")

    yield click(*TABLE)
    yield snap("3_table")
    yield press("Escape")

    group.dust = 0.5
    redraw()
    yield
    yield snap("4_changed")

    group.note = "the rail reads as new: ask again once the plate is graded"
    yield from pressed(*LOCK)
    assert [shot.locked for shot in usecases.list_shots(scene)] == [True, False, False]
    assert group.number == 2, "a click on a lock chooses no other shot"
    yield snap("5_note_and_lock")
    yield from pressed(*LOCK)
    bpy.ops.playworn.lock_shot(name="medium")
    assert [shot.locked for shot in usecases.list_shots(scene)] == [False, True, False]
    group.target_px = 0.8
    bpy.ops.playworn.dial_shot_to()
    bpy.ops.playworn.put_on_timeline()
    redraw()
    yield
    yield snap("6_on_timeline")

    for heading in (DIALS, PASSES):
        yield click(*heading)
    redraw()
    yield
    yield snap("7_passes")
    bpy.ops.playworn.put_passes_on()
    redraw()
    yield
    yield snap("8_passes_on")

    bpy.ops.playworn.copy_dials("INVOKE_DEFAULT")
    yield
    yield from pressed(*TICK)
    yield snap("9_copy")
    yield from pressed(*OK)
    wide, medium, macro = usecases.list_shots(scene)
    assert (wide.dials == macro.dials, medium.dials.turned) == (True, {})
    yield press("ctrl+z")
    yield
    wide, medium, macro = usecases.list_shots(window().scene)
    assert (wide.dials.turned, macro.dials.dust) == ({}, 0.5), "one step takes the copy back"
    bpy.ops.playworn.lock_shot(name="macro")
    redraw()
    yield
    yield snap("10_locked")
    bpy.ops.playworn.add_shot("INVOKE_DEFAULT")
    yield
    yield snap("11_add")
