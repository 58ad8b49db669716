"""The button that takes everything of ours out of the open file."""

import bpy

from ... import usecases
from .. import told
from ..action import Action, Report
from ..build import sight
from ..context import Context, Ending


class ClearEverything(Action, bpy.types.Operator):
    """Take all of Playworn out of this file, off what has left its build too, with pins, re-rolls, shots and notes"""

    bl_idname = "playworn.clear_everything"
    bl_label = "Clear Everything of Playworn"

    def invoke(self, context: Context, event: bpy.types.Event) -> Ending:
        return context.window_manager.invoke_confirm(
            self,
            event,
            title="Clear Everything of Playworn",
            message="All builds of this file lose their fit and wear, and bricks that have left them theirs. "
            "Pins, re-rolls, shots and what was noted of exports go too.",
            confirm_text="Clear Everything",
        )

    def act(self, _context: Context) -> Report:
        for screen in filter(sight.are_coloured, bpy.data.screens):
            sight.uncolour(screen)
        done = usecases.clear_everything()
        told.forget()
        return "WARNING" if done.stays or done.linked else "INFO", done.sentence


CLASSES = (ClearEverything,)
