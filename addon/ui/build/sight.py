"""What of a build the 3D views show: it framed, and each of its bricks in a colour of its own."""

import json
from collections.abc import Iterable, Iterator
from typing import Any

import bpy

from ..context import Context

SHADING = "playworn_shading"  # on a screen: how its 3D views were shaded before the bricks had colours of their own

_COLOURED = {
    "type": "SOLID",
    "color_type": "RANDOM",
    "show_outline_selected": False,
    "show_object_origins": False,
    "show_relationship_lines": False,
}  # what hides the colours of many selected bricks goes too


def show(context: Context, builds: Iterable[bpy.types.Collection], left_out: Iterable[str]) -> None:
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
        view = area.spaces.active
        if isinstance(view, bpy.types.SpaceView3D) and view.region_3d.view_perspective == "CAMERA":
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
    for number, space in _spaces(screen):
        before[str(number)] = [getattr(_owner(space, name), name) for name in _COLOURED]
        for name, value in _COLOURED.items():
            setattr(_owner(space, name), name, value)
    screen[SHADING] = json.dumps(before)


def uncolour(screen: bpy.types.Screen) -> None:
    """Shows the 3D views of a screen as they were; what the artist has set otherwise meanwhile stays so."""
    before = json.loads(screen[SHADING])
    del screen[SHADING]
    for number, space in _spaces(screen):
        kept = dict(zip(_COLOURED, before.get(str(number), ()), strict=False))
        changed = space.shading.type != _COLOURED["type"]  # its colours are those of another kind of shading
        for name, value in reversed(kept.items()):
            owner = _owner(space, name)
            if not (changed and name == "color_type") and getattr(owner, name) == _COLOURED[name]:
                setattr(owner, name, value)


def _owner(space: bpy.types.SpaceView3D, name: str) -> bpy.types.bpy_struct:
    return space.shading if name in ("type", "color_type") else space.overlay


def _spaces(screen: bpy.types.Screen) -> Iterator[tuple[int, Any]]:
    for number, area in enumerate(screen.areas):
        if area.type == "VIEW_3D":
            yield number, area.spaces.active


def _views(context: Context) -> list[tuple[bpy.types.Window, bpy.types.Area]]:
    windows = [window for window in context.window_manager.windows if window.scene == context.scene]
    return [(window, area) for window in windows for area in window.screen.areas if area.type == "VIEW_3D"]
