"""The panel in Blender's own window on the demo's lighthouse: every state of it, a picture after each step.

Run inside the window with the extension installed; whoever opens the window gives `snap(name)`, which takes a picture
once the window has redrawn, `click(x, y, button)` and `press(keys)`, and `side_panel(tab)`, which opens the sidebar.
"""

# ruff: noqa: F821  the names above are given

import importlib
import tempfile
from math import radians
from pathlib import Path

import bpy
from mathutils import Euler, Vector

PACKAGE = "bl_ext.user_default.playworn.addon"
SIDEBAR_STEPS = 2  # redraws until a newly opened tab is there
CLOSER = 0.22  # share of the whole view that the close look shows
IN_VIEW, MIDDLE = (
    (600, 860),
    2,
)  # a place in the 3D view, in pixels of the screen, and the button that does nothing there
LEFT_ALONE = (1340, 794)  # the headings of these panels, with those above them closed
LIMITS, LAYERS, STORY, BY_HAND = (1340, 523), (1340, 690), (1340, 716), (1340, 742)


def view() -> bpy.types.Area:
    return next(area for area in bpy.context.window_manager.windows[0].screen.areas if area.type == "VIEW_3D")


def scene_of_window() -> bpy.types.Scene:
    return bpy.context.window_manager.windows[0].scene


def redraw() -> None:
    view().tag_redraw()


def look(build: bpy.types.Collection, share: float, height: float) -> None:
    """Looks at the build from a little above; a share of 1 shows all of it, height 0 is its foot and 1 its top."""
    bpy.context.view_layer.update()
    corners = [thing.matrix_world @ Vector(corner) for thing in build.all_objects for corner in thing.bound_box]
    low = Vector([min(corner[axis] for corner in corners) for axis in range(3)])
    high = Vector([max(corner[axis] for corner in corners) for axis in range(3)])
    space = view().spaces.active
    space.region_3d.view_location = Vector((*(0.5 * (low + high)).xy, low.z + height * (high.z - low.z)))
    space.region_3d.view_distance = 1.25 * share * (high - low).length
    space.region_3d.view_rotation = Euler((radians(76), 0.0, radians(28))).to_quaternion()
    space.clip_start = 0.001
    space.shading.show_cavity = True
    space.shading.cavity_type = "BOTH"
    space.shading.color_type = "MATERIAL"
    space.overlay.show_overlays = False


def textures() -> str:
    """A folder with a good picture, one that tells of what it is not, and one that is none."""
    png, standin = (importlib.import_module(f"{PACKAGE}.core.{name}") for name in ("pictures.png", "wear.standin"))
    folder = Path(tempfile.mkdtemp())
    scratches = standin.scratches(3)
    (folder / "hairlines_2k.png").write_bytes(png.encode(scratches))
    (folder / "desk_dust.png").write_bytes(png.encode(scratches[:700, :700]))
    (folder / "smudges.png").write_bytes(b"no picture")
    return str(folder)


def steps():
    yield from brought_in()
    yield from applied_and_undone()
    yield from dialled()
    yield from textured()
    yield from left_alone()
    yield from saved()


def brought_in():
    scene = scene_of_window()
    scene.render.engine = "CYCLES"
    for thing in list(bpy.data.objects):
        bpy.data.objects.remove(thing)
    for _ in range(SIDEBAR_STEPS):
        side_panel("Playworn")
        yield
    side_panel("Playworn")
    yield snap("1_no_build")

    export = importlib.import_module(f"{PACKAGE}.demo.export")
    path = Path(tempfile.mkdtemp()) / "lighthouse.glb"
    export.write_glb(path)
    assert bpy.ops.playworn.bring_in(filepath=str(path)) == {"FINISHED"}
    settings = scene.playworn
    look(settings.build, 1.0, 0.5)
    redraw()
    yield
    yield snap("2_brought_in")


def applied_and_undone():
    settings = scene_of_window().playworn
    settings.preset = "toy-box"
    bpy.ops.ed.undo_push(message="Preset")
    assert bpy.ops.playworn.apply("EXEC_DEFAULT", True) == {"FINISHED"}
    redraw()
    yield
    redraw()
    yield snap("3_applied")

    yield click(*IN_VIEW, MIDDLE)
    yield press("ctrl+z")
    settings = scene_of_window().playworn
    assert "playworn" not in settings.build, "one undo takes the whole of Apply back"
    assert settings.preset == "toy-box", "and nothing before it"
    yield snap("4_undone")


def dialled():
    settings = scene_of_window().playworn
    bpy.ops.playworn.apply()
    look(settings.build, CLOSER, 0.45)
    settings.looseness = 2.0
    redraw()
    yield
    yield snap("5_looser")

    settings.looseness = 1.0
    for thing in settings.build.all_objects[:5]:
        thing.select_set(True)
    redraw()
    yield
    yield click(*BY_HAND)
    yield snap("5_by_hand")
    yield click(*STORY)
    yield snap("5_story")
    yield click(*LAYERS)
    yield snap("5_layers")
    for heading in (LAYERS, STORY, BY_HAND):
        yield click(*heading)
    yield click(*LIMITS)
    settings = scene_of_window().playworn
    settings.limits.twist_deg, settings.limits.play_mm = 6.0, 0.01
    redraw()
    yield
    yield snap("6_limits")


def textured():
    bpy.ops.playworn.reset_limits()
    yield click(*LIMITS)
    settings = scene_of_window().playworn
    settings.textures = "/nowhere/at/all"
    redraw()
    yield
    redraw()
    yield snap("7_problem")

    settings.textures = textures()
    redraw()
    yield
    redraw()
    yield snap("8_textures")


def left_alone():
    settings = scene_of_window().playworn
    settings.textures = ""
    scene_of_window().render.engine = "BLENDER_EEVEE"
    for thing in settings.build.all_objects[:9]:
        thing.rotation_mode = "AXIS_ANGLE"
    bpy.ops.playworn.apply()
    redraw()
    yield
    yield click(*LEFT_ALONE)
    redraw()
    yield
    yield snap("9_left_alone")


def saved():
    bpy.ops.playworn.save_preset("INVOKE_DEFAULT")
    yield
    yield snap("10_save_preset")
