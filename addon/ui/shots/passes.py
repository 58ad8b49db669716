"""The box of the passes: what they are, and the buttons that put them on and take them off."""

from typing import ClassVar

import bpy

from ... import usecases
from ...core.report import counted
from ...core.wear.layers import LAYERS
from ..action import Action, OnBuild, Report
from ..context import Context
from ..panels import BuildPart
from ..paragraphs import paragraph
from .shotlist import ShotsPanel

_WHAT = (
    f"Beauty, depth, normal, diffuse and gloss; mattes by brick and by material; the masks of {', '.join(LAYERS)} and "
    "rounding; motion in mm"
)
_WHERE = "One file a frame, with all of them: choose OpenEXR MultiLayer as the output, or use the command render"


class PutPassesOn(OnBuild, bpy.types.Operator):
    """Give every view layer that renders the passes for compositing; what you have there yourself stays"""

    bl_idname = "playworn.put_passes_on"
    bl_label = "Put Passes On"

    def act(self, context: Context) -> Report:
        done = usecases.put_passes_on(context.scene.playworn.build, context.scene)
        return ("WARNING", f"{done.sentence}; {done.warning}") if done.warning else ("INFO", done.sentence)


class TakePassesOff(Action, bpy.types.Operator):
    """Take the passes off all view layers of the scene again; your own stay"""

    bl_idname = "playworn.take_passes_off"
    bl_label = "Take Passes Off"

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if usecases.passes_on(context.scene) else "No view layer of the scene has passes of Playworn"
        )

    def act(self, context: Context) -> Report:
        count = usecases.take_passes_off(context.scene)
        return "INFO", f"Passes off {counted(count, 'view layer')}"


class PassesPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_passes"
    bl_label = "Passes"
    bl_parent_id = ShotsPanel.bl_idname
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    def draw(self, context: Context) -> None:
        layout, layers = self.layout, usecases.passes_on(context.scene)
        if layers:
            paragraph(layout, context, f"On {', '.join(layers)}")
        paragraph(layout, context, _WHAT)
        row = layout.row(align=True)
        row.operator(PutPassesOn.bl_idname)
        row.operator(TakePassesOff.bl_idname)
        paragraph(layout, context, _WHERE, "INFO")


CLASSES = (PutPassesOn, TakePassesOff, PassesPanel)
