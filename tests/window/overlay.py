"""The overlay in Blender's own window: each kind on the demo's lighthouse, what follows a dial, an undo and another
view, and that nothing of it stays.

Run inside the window with the extension installed; whoever opens the window gives `snap(name)`, which takes a picture
once the window has redrawn, `press(keys)` and `side_panel(tab)`, which opens the sidebar.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
import time
from math import radians
from pathlib import Path

import bpy
from mathutils import Euler, Vector

PACKAGE = "bl_ext.user_default.playworn.addon"


def module(name: str):
    return importlib.import_module(f"{PACKAGE}.{name}")


def window() -> bpy.types.Window:
    return bpy.context.window_manager.windows[0]


def view() -> bpy.types.Area:
    return next(area for area in window().screen.areas if area.type == "VIEW_3D")


def look(build: bpy.types.Collection, share: float = 1.0, height: float = 0.5) -> None:
    corners = [thing.matrix_world @ Vector(corner) for thing in build.all_objects for corner in thing.bound_box]
    low = Vector([min(corner[axis] for corner in corners) for axis in range(3)])
    high = Vector([max(corner[axis] for corner in corners) for axis in range(3)])
    space = view().spaces.active
    space.region_3d.view_location = Vector((*(0.5 * (low + high)).xy, low.z + height * (high.z - low.z)))
    space.region_3d.view_distance = 1.25 * share * (high - low).length
    space.region_3d.view_rotation = Euler((radians(70), 0.0, radians(28))).to_quaternion()
    space.clip_start = 0.001


def shade(space) -> list[str]:
    """All that a view shows by: what an overlay must not change."""
    return [
        f"{each.identifier} {getattr(owner, each.identifier)!r}"
        for owner in (space.shading, space.overlay)
        for each in owner.bl_rna.properties
        if each.type not in ("POINTER", "COLLECTION") and not getattr(each, "is_array", False)
    ]


def redraw_s() -> float:
    """What a redraw of the view takes, in seconds."""
    region = next(region for region in view().regions if region.type == "WINDOW")
    start = time.perf_counter()
    with bpy.context.temp_override(window=window(), area=view(), region=region):
        bpy.ops.wm.redraw_timer(type="DRAW", iterations=10)
    return (time.perf_counter() - start) / 10


def steps():
    overlay = module("ui.build.overlay")
    for thing in list(bpy.data.objects):
        bpy.data.objects.remove(thing)
    for _ in range(2):
        side_panel("Playworn")
        yield
    side_panel("Playworn")
    folder = Path(tempfile.mkdtemp())
    module("demo.export").write_glb(folder / "lighthouse.glb")
    assert bpy.ops.playworn.bring_in(filepath=str(folder / "lighthouse.glb")) == {"FINISHED"}
    settings, session = window().scene.playworn, window().id_data.playworn
    settings.preset = "attic"
    bpy.ops.ed.undo_push(message="Brought in")
    yield

    session.overlay = "reach"
    look(settings.build)
    yield
    yield snap("1_nothing_applied")
    assert bpy.ops.playworn.apply("EXEC_DEFAULT", True) == {"FINISHED"}
    for thing in bpy.context.selected_objects:
        thing.select_set(False)
    session.overlay = "off"
    before = shade(view().spaces.active)
    yield
    yield snap("2_off")

    for name in ("reach", "sky", "dust", "scratches", "motion", "interference"):
        session.overlay = name
        yield
        yield snap(f"3_{name}")
    assert shade(view().spaces.active) == before
    session.overlay = "motion"
    yield
    told = overlay.of(settings.build).overlay.lines
    settings.looseness = 2.0
    bpy.ops.ed.undo_push(message="Looseness")
    yield
    yield snap("4_looser")
    assert overlay.of(settings.build).overlay.lines != told, "a turned dial is followed"
    yield press("ctrl+z")
    yield
    yield snap("5_undone")

    settings, session = window().scene.playworn, window().id_data.playworn
    session.overlay = "dust"
    settings.layers.dust = 2.0
    look(settings.build, 0.25, 0.3)
    view().spaces.active.region_3d.view_perspective = "ORTHO"
    next(thing for thing in settings.build.all_objects if thing.type == "MESH").select_set(True)
    window().view_layer.objects.active = next(thing for thing in settings.build.all_objects if thing.type == "MESH")
    yield
    yield snap("6_near_and_flat")

    print("a redraw with it", redraw_s(), flush=True)
    session.overlay = "off"
    print("and without", redraw_s(), flush=True)
    yield
    yield snap("7_off_again")
