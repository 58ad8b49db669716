"""The button that takes everything of ours out of the open file."""

import bpy

from ... import usecases
from ...core import report
from .. import told
from ..action import Action, Report
from ..build import sight
from ..context import Context, Ending
from ..steps import Stepwise


class ClearEverything(Stepwise, Action, bpy.types.Operator):
    """Take all of Playworn out of this file, off what has left its build too, with pins, re-rolls, amounts and shots"""

    bl_idname = "playworn.clear_everything"
    bl_label = "Clear Everything of Playworn"
    given_up = "Given up: the file is as it was"

    def invoke(self, context: Context, event: bpy.types.Event) -> Ending:
        self._waits = not bpy.app.background
        return context.window_manager.invoke_confirm(
            self,
            event,
            title="Clear Everything of Playworn",
            message="Fit and wear come off every build of this file, and off bricks that left one.\n"
            "Pins, re-rolls, amounts and shots go too, and what Update From Export goes by.\n"
            "What you did by hand stays.",
            confirm_text="Clear Everything",
        )

    def steps(self, context: Context) -> usecases.Steps[report.ClearedFile]:
        coloured = list(filter(sight.are_coloured, bpy.data.screens))
        for screen in coloured:  # while it is known how they looked before
            sight.uncolour(screen)
        try:
            return (yield from usecases.clearing_everything())
        except BaseException:
            for screen in coloured:
                sight.colour(screen)
            raise

    def ended(self, context: Context, done: report.ClearedFile) -> Report:
        told.forget()
        return "WARNING" if done.stays or done.linked else "INFO", done.sentence


CLASSES = (ClearEverything,)
