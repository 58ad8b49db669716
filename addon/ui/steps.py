"""Work that goes on step by step while the window lives: between two steps Esc gives up.

A step itself cannot be stopped, since Blender hands no key to an operator at work. Only one such work is under way at a
time, and nothing gets in between its steps: its window hands no event on, the other windows wait, no other operator of
ours begins. Whatever else wants the file, as undoing, saving or loading, finds it as it was before: the work is given
up first.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from time import monotonic
from typing import Any, ClassVar, cast

import bpy

from .. import usecases
from ..core.errors import PlaywornError
from ..core.slices import is_over, slicing
from . import action, disk
from .action import Action, Report
from .context import Context, Ending
from .progress import progress, say

_AT_ONCE_S = 0.05  # spent on steps before the window has its turn, or
_OF_ITS_TURN = 0.5  # of what its last one took: after some changes Blender goes through all objects of the file; but
_AT_MOST_S = 0.08  # since a step may be on when it is over: together less than 0.2; or
_BESIDE_ITS_TURN = 0.1  # of what is fair: where Blender needs ten seconds for its own, the fewer turns the better
_EVERY_S = 0.01  # between two turns of ours: what the window needs to draw and to hear a key


def is_at_work() -> bool:
    """Whether some work is under way."""
    return action.under_way is not None


def give_up(*_: Any) -> None:
    """Gives up what is under way."""
    if action.under_way is not None:
        action.under_way()


class Stepwise(Action):
    """An action that goes through its `steps`, in the window a few at a time, and comes to its end in `ended`."""

    given_up: ClassVar[str] = "Given up: the build is as it was"  # what is told after Esc

    _waits = False  # whether the window goes on between two steps
    _steps: usecases.Steps[Any] | None = None
    _timer: bpy.types.Timer | None = None
    _left_at = 0.0  # when the window last had its turn

    def steps(self, context: Context) -> usecases.Steps[Any]:
        """The work itself."""
        raise NotImplementedError

    def ended(self, context: Context, outcome: Any) -> Report:
        """Shows what the work came to; what is to be reported of it."""
        raise NotImplementedError

    def act(self, context: Context) -> Report:
        """All steps in one go."""
        with progress(context) as show:
            outcome = usecases.done(self.steps(context), show)
        return self.ended(context, outcome)

    def invoke(self, context: Context, event: bpy.types.Event) -> Ending:
        self._waits = not bpy.app.background
        return self.execute(context) if self.is_chosen else super().invoke(context, event)

    def execute(self, context: Context) -> Ending:
        if not self._waits:
            return super().execute(context)
        self._waits = False
        try:
            self._begin(context)
        except PlaywornError as problem:
            return self.failed(context, problem)
        going_on = self._go_on(context)
        if self._steps is not None:
            self._timer = context.window_manager.event_timer_add(_EVERY_S, window=context.window)
            context.window_manager.modal_handler_add(self)
            _hold_other_windows(context)
        return going_on

    def failed(self, _context: Context, problem: PlaywornError) -> Ending:
        self.report({"ERROR"}, str(problem))
        return {"CANCELLED"}

    def modal(self, context: Context, event: bpy.types.Event) -> Ending:
        if event.type == "ESC":
            self.cancel(context)
        if self._steps is None:
            self.report({"INFO"}, self.given_up)
            return {"CANCELLED"}
        return self._go_on(context) if event.type == "TIMER" else {"RUNNING_MODAL"}

    def cancel(self, context: Context) -> None:
        """Blender calls it too, where the window is closed meanwhile; the file browser has begun nothing."""
        if self._steps is None:
            return
        steps, self._steps = self._steps, None
        try:
            steps.close()
        finally:
            self._end(context)

    def _begin(self, context: Context) -> None:
        disk.look()
        self._steps, self._left_at = self.steps(context), monotonic()
        action.under_way = lambda: self.cancel(cast(Context, bpy.context))
        for handlers in _others():
            handlers.append(give_up)
        context.window_manager.progress_begin(0, 100)
        _redraw_panels(context)

    def _end(self, context: Context) -> None:
        self._steps = action.under_way = None
        for handlers in _others():
            if give_up in handlers:
                handlers.remove(give_up)
        if self._timer is not None:
            context.window_manager.event_timer_remove(self._timer)
            self._timer = None
        context.window_manager.progress_end()
        say(context, None)
        _redraw_panels(context)

    def _go_on(self, context: Context) -> Ending:
        assert self._steps is not None
        try:
            fraction, words = _some(self._steps, _OF_ITS_TURN * (monotonic() - self._left_at))
        except StopIteration as end:
            self._end(context)
            return self.reported(partial(self.ended, context, end.value))
        except PlaywornError as problem:
            self._end(context)
            return self.failed(context, problem)
        except BaseException:
            self.cancel(context)
            raise
        context.window_manager.progress_update(round(100 * fraction))
        say(context, f"Playworn: {words}, {fraction:.0%}; Esc gives up")
        self._left_at = monotonic()
        return {"RUNNING_MODAL"}


class Wait(bpy.types.Operator):
    """Wait for the work under way"""

    bl_idname = "playworn.wait"
    bl_label = "Wait"
    bl_options: ClassVar = {"INTERNAL"}

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, _context: Context, event: bpy.types.Event) -> Ending:
        if event.type == "ESC":
            give_up()
        return {"RUNNING_MODAL"} if is_at_work() else {"FINISHED", "PASS_THROUGH"}


def _some(steps: usecases.Steps[Any], fair_s: float) -> tuple[float, str]:
    """Goes through as many steps as the window can wait for, or as are fair; what the last one told."""
    most_s = max(_AT_MOST_S, _BESIDE_ITS_TURN * fair_s)
    with slicing(min(max(_AT_ONCE_S, fair_s), most_s)), _uncollected():
        while True:
            told = next(steps)
            if is_over():
                return told


@contextmanager
def _uncollected() -> Iterator[None]:
    """Python looks for garbage between two turns: of all that a job holds that takes it as long as a turn."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _hold_other_windows(context: Context) -> None:
    for window in context.window_manager.windows:
        if window != context.window:
            with context.temp_override(window=window):
                cast(Any, bpy.ops).playworn.wait("INVOKE_DEFAULT")


def _redraw_panels(context: Context) -> None:
    """Shows in the sidebars which buttons wait, and which do no more."""
    areas = [area for window in context.window_manager.windows for area in window.screen.areas]
    for region in (region for area in areas if area.type == "VIEW_3D" for region in area.regions):
        if region.type == "UI":
            region.tag_redraw()


def _others() -> Iterator[list]:
    """What Blender calls before it does something else with the file."""
    handlers = bpy.app.handlers
    yield from (handlers.load_pre, handlers.save_pre, handlers.undo_pre, handlers.redo_pre)


CLASSES = (Wait,)
