"""How far long work has come: at the pointer, and in words in the status bar."""

from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic

import bpy

from .. import usecases
from .context import Context

_LEAST_S, _LEAST_TIMES = 0.2, 10.0  # between two redraws, in seconds and in times of one: they hold the work up


@contextmanager
def progress(context: Context) -> Iterator[usecases.Progress]:
    """The pointer shows how far the work has come in per cent, and the status bar what is being done."""
    manager, workspace, due = context.window_manager, context.workspace, 0.0

    def show(fraction: float, words: str) -> None:
        nonlocal due
        manager.progress_update(round(100 * fraction))
        if workspace is None or bpy.app.background:
            return
        workspace.status_text_set(f"Playworn: {words}, {fraction:.0%}")
        start = monotonic()
        if start > due:
            bpy.ops.wm.redraw_timer(type="DRAW_WIN_SWAP", iterations=1)  # nothing else draws before the work is done
            due = monotonic() + max(_LEAST_S, _LEAST_TIMES * (monotonic() - start))

    manager.progress_begin(0, 100)
    try:
        yield show
    finally:
        manager.progress_end()
        if workspace is not None and not bpy.app.background:
            workspace.status_text_set(None)


def say(context: Context, words: str | None) -> None:
    """Shows words in the status bar of every window, or what stands there else."""
    for window in context.window_manager.windows:
        with context.temp_override(window=window):
            window.workspace.status_text_set(words)
