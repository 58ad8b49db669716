"""The overlay of the 3D views: which one is shown, and what keeps it up to date. Nothing of it is in a file.

While one is shown, whatever changes the build has it gathered anew a moment later; a redraw draws what was gathered.
"""

from dataclasses import dataclass
from typing import Any, cast

import bpy
import numpy as np

from ... import usecases
from ...core.errors import PlaywornError
from ...core.pictures.overlay import KINDS, OFF
from ...core.remembered import goes_too
from .. import steps, told
from ..context import Context
from . import legend, painting

_AFTER_S = 0.15  # once nothing has changed for so long it is gathered anew
_ITEMS = [(OFF, "Off", "Bricks look as they do"), *((name, each.label, each.meaning) for name, each in KINDS.items())]
_NAMES = [name for name, *_ in _ITEMS]


@dataclass
class _Shown:
    """What is shown of one build."""

    gathered: usecases.Gathered | None = None
    problem: str = ""
    painted: painting.Painting | None = None  # once it was drawn


_name = OFF
_shown: dict[int, _Shown] = {}  # by the build's session number
_handles: list[tuple[Any, str]] = []


class Choice:
    """What of the build the 3D views show; a mixin of what belongs to the session."""

    overlay: bpy.props.EnumProperty(
        name="Overlay",
        description="Show how much of something each side of each brick has, as colours with numbers. Nothing of the "
        "build or the file is changed by it",
        items=_ITEMS,
        get=lambda _session: _NAMES.index(_name),
        set=lambda _session, number: show(_NAMES[number]),
    )


def show(name: str) -> None:
    """Shows one overlay in place of another, or none."""
    global _name
    if name == OFF:
        forget()
        return
    if not _handles:
        _begin()
    _name = name
    _shown.clear()
    renew()


def renew() -> None:
    """Gathers what the builds in the windows have now."""
    for window in _windows():
        build = cast(Context, window).scene.playworn.build
        if build is not None:
            before = _shown.get(build.session_uid, _Shown())
            _shown[build.session_uid] = _gathered(build, window, before)
    told.redraw()


def _gathered(build: bpy.types.Collection, window: bpy.types.Window, before: _Shown) -> _Shown:
    depsgraph = cast(Context, window).view_layer.depsgraph
    assert depsgraph is not None  # a window's layer has one
    depsgraph.update()
    try:
        return _Shown(usecases.gather_overlay(build, _name, depsgraph), "", before.painted)
    except PlaywornError as problem:
        return _Shown(None, str(problem))


def of(build: bpy.types.Collection) -> usecases.Gathered | None:
    """What was gathered of a build, None where nothing is shown of it."""
    shown = _shown.get(build.session_uid)
    return shown.gathered if shown else None


@goes_too
def forget() -> None:
    """Shows none, and leaves nothing behind; so it is once another file is loaded, too."""
    global _name
    if not _handles:
        return
    _name = OFF
    _shown.clear()
    while _handles:
        bpy.types.SpaceView3D.draw_handler_remove(*_handles.pop())
    for handlers, work in _listeners():
        if work in handlers:
            handlers.remove(work)
    if bpy.app.timers.is_registered(_renew_now):
        bpy.app.timers.unregister(_renew_now)
    told.redraw()


def _begin() -> None:
    add = bpy.types.SpaceView3D.draw_handler_add
    _handles.extend((add(draw, (), "WINDOW", when), "WINDOW") for draw, when in _DRAWN)
    for handlers, work in _listeners():
        handlers.append(work)


def _listeners() -> list[tuple[list, Any]]:
    """What tells of changes, and what is done then."""
    on = bpy.app.handlers
    changed = (on.undo_post, on.redo_post, on.frame_change_post, usecases.heard)
    return [(on.depsgraph_update_post, _look), *((each, _wait) for each in changed)]


def _look(_scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """What an artist moves or hides is drawn so at once; what the bricks have then is gathered a moment later."""
    _move()
    if any(
        each.is_updated_transform or each.is_updated_geometry or each.is_updated_shading for each in depsgraph.updates
    ):
        _wait()


def _wait(*_: Any) -> None:
    _move()
    if bpy.app.timers.is_registered(_renew_now):
        bpy.app.timers.unregister(_renew_now)
    bpy.app.timers.register(_renew_now, first_interval=_AFTER_S)


def _renew_now() -> float | None:
    """What a job under way has half done is not looked at."""
    if steps.is_at_work():
        return _AFTER_S
    renew()
    return None


def _move() -> None:
    for shown in _shown.values():
        if shown.painted:
            shown.painted.move()


def _current(context: Context) -> tuple[_Shown | None, bpy.types.SpaceView3D | None]:
    """What is to be drawn, and the view; what is not gathered yet will be."""
    build, view = context.scene.playworn.build, cast(object, context.space_data)
    if build is None or not isinstance(view, bpy.types.SpaceView3D) or not view.overlay.show_overlays:
        return None, None
    shown = _shown.get(build.session_uid)
    if shown is None and not bpy.app.timers.is_registered(_renew_now):
        bpy.app.timers.register(_renew_now, first_interval=_AFTER_S)
    return shown, view


def _draw_bricks() -> None:
    context = cast(Context, bpy.context)
    shown, view = _current(context)
    if shown is None or view is None or shown.gathered is None:
        return
    if shown.painted is None or shown.painted.gathered is not shown.gathered:
        shown.painted = painting.Painting(shown.gathered, shown.painted)
    number = view.as_pointer()
    if not shown.painted.stands(number):
        build = context.scene.playworn.build
        shown.painted.stand(number, usecases.standing(build, shown.gathered.bricks, view))
    assert view.region_3d is not None  # a 3D view that is drawn has one
    shown.painted.draw(number, _eye(view.region_3d))


def _draw_legend() -> None:
    context = cast(Context, bpy.context)
    shown, _ = _current(context)
    if shown is None:
        return
    if shown.gathered is None:
        legend.say(context, shown.problem[:1].upper() + shown.problem[1:])
        return
    legend.draw(context, shown.gathered.overlay, _active(context, shown.gathered))


def _active(context: Context, gathered: usecases.Gathered) -> str:
    """The numbers of the active brick, "" where none is."""
    thing = context.view_layer.objects.active
    if thing is None:
        return ""
    rows = np.flatnonzero(gathered.bricks == thing.session_uid).tolist()
    return gathered.overlay.told(rows[0], thing.name) if rows else ""


def _eye(region: bpy.types.RegionView3D) -> painting.Eye:
    back = region.view_matrix.inverted()
    flat = region.window_matrix[3][3] != 0.0  # all rays go one way
    x, y, z = back.col[2].xyz if flat else back.translation
    return painting.Eye(region.perspective_matrix, (x, y, z, 0.0 if flat else 1.0))


def _windows() -> list[bpy.types.Window]:
    return list(told.context().window_manager.windows)


_DRAWN = ((_draw_bricks, "POST_VIEW"), (_draw_legend, "POST_PIXEL"))
