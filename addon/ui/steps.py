"""Work that goes on step by step while the window lives: between two steps Esc gives up.

A step itself cannot be stopped, since Blender hands no key to an operator at work.
"""

from collections.abc import Callable, Generator
from typing import Any, ClassVar

import bpy

from ..core.errors import PlaywornError
from .context import Context, Ending
from .files import Opens

Steps = Generator[tuple[float | None, str], None, Any]  # how far, where that is known, and what is being done


class Stepwise(Opens):
    """An operator on a file that goes through its `steps` in the window, and then comes to its end in `ended`."""

    every_s: ClassVar[float]  # between two steps: what the window needs to draw and to hear a key
    given_up: ClassVar[str]  # what is told after Esc
    steps: Callable[[Context], Steps]
    ended: Callable[[Context, Any], Ending]  # with what the steps return

    _waits = False  # whether the window goes on between two steps
    _steps: Steps | None = None
    _timer: bpy.types.Timer | None = None

    @property
    def is_chosen(self) -> bool:
        """Whether there is a file already: one that was dropped, or that a script names."""
        return bool(self.filepath)

    def invoke(self, context: Context, event: bpy.types.Event) -> Ending:
        self._waits = not bpy.app.background
        return self.execute(context) if self.is_chosen else super().invoke(context, event)

    def execute(self, context: Context) -> Ending:
        if not self._waits:
            return super().execute(context)
        self._waits = False
        self._steps = self.steps(context)
        context.window_manager.progress_begin(0, 100)
        going_on = self._go_on(context)
        if self._steps is not None:
            self._timer = context.window_manager.event_timer_add(self.every_s, window=context.window)
            context.window_manager.modal_handler_add(self)
        return going_on

    def modal(self, context: Context, event: bpy.types.Event) -> Ending:
        if event.type == "ESC":
            self.cancel(context)
            self.report({"INFO"}, self.given_up)
            return {"CANCELLED"}
        return self._go_on(context) if event.type == "TIMER" else {"RUNNING_MODAL"}

    def cancel(self, context: Context) -> None:
        """Blender calls it too, where the window is closed meanwhile; the file browser has begun nothing."""
        if self._steps is None:
            return
        self._steps.close()
        if self._timer is not None:
            context.window_manager.event_timer_remove(self._timer)
        context.window_manager.progress_end()
        context.workspace.status_text_set(None)
        self._steps = self._timer = None

    def _go_on(self, context: Context) -> Ending:
        assert self._steps is not None
        try:
            fraction, words = next(self._steps)
        except StopIteration as end:
            self.cancel(context)
            return self.ended(context, end.value)
        except PlaywornError as problem:
            self.cancel(context)
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        except BaseException:
            self.cancel(context)
            raise
        if fraction is not None:
            context.window_manager.progress_update(round(100 * fraction))
            words += f", {fraction:.0%}"
        context.workspace.status_text_set(f"Playworn: {words}; Esc gives up")
        return {"RUNNING_MODAL"}
