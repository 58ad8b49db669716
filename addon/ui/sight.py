"""What of a build the 3D views show: it framed, and each of its bricks in a colour of its own."""

import json
from collections.abc import Iterable, Iterator

import bpy

SHADING = "playworn_shading"  # on a screen: how its 3D views were shaded before the bricks had colours of their own


def show(context: bpy.types.Context, builds: Iterable[bpy.types.Collection], left_out: Iterable[str]) -> None:
    """Selects the builds and nothing else, with the frame active, and has every 3D view look at them."""
    apart, layer = set(left_out), context.view_layer
    if context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for thing in context.selected_objects:
        thing.select_set(False)
    for build in builds:
        for thing in build.all_objects:
            if thing.name not in apart and thing.visible_get(view_layer=layer):
                thing.select_set(True, view_layer=layer)
        frames = [thing for thing in build.objects if thing.parent is None]
        layer.objects.active = frames[0] if frames else None
    for window, area in _views(context):
        if area.spaces.active.region_3d.view_perspective == "CAMERA":
            continue  # what the artist has framed stays
        region = next(region for region in area.regions if region.type == "WINDOW")
        with context.temp_override(window=window, area=area, region=region):
            bpy.ops.view3d.view_selected()


def are_coloured(screen: bpy.types.Screen) -> bool:
    """Whether bricks show colours of their own in a screen."""
    return SHADING in screen


def colour(screen: bpy.types.Screen) -> None:
    """Shows every object of a screen's 3D views in a colour of its own, as Blender draws them; `uncolour` ends it."""
    before = {}
    for number, shading in _shadings(screen):
        before[str(number)] = [shading.type, shading.color_type]
        shading.type, shading.color_type = "SOLID", "RANDOM"
    screen[SHADING] = json.dumps(before)


def uncolour(screen: bpy.types.Screen) -> None:
    """Shades the 3D views of a screen as they were; one that is shaded otherwise by now stays so."""
    before = json.loads(screen[SHADING])
    del screen[SHADING]
    for number, shading in _shadings(screen):
        if str(number) in before and (shading.type, shading.color_type) == ("SOLID", "RANDOM"):
            kind, colour = before[str(number)]
            shading.color_type, shading.type = colour, kind


def _shadings(screen: bpy.types.Screen) -> Iterator[tuple[int, bpy.types.View3DShading]]:
    for number, area in enumerate(screen.areas):
        if area.type == "VIEW_3D":
            yield number, area.spaces.active.shading


def _views(context: bpy.types.Context) -> list[tuple[bpy.types.Window, bpy.types.Area]]:
    windows = [window for window in context.window_manager.windows if window.scene == context.scene]
    return [(window, area) for window in windows for area in window.screen.areas if area.type == "VIEW_3D"]
