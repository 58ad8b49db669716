"""The button that gives the dials of the chosen shot to others, which are chosen in its dialogue."""

import bpy

from ... import usecases
from ..action import Report
from ..context import Context, Ending
from . import shots
from .shooting import OnShot

_COLUMN = 12  # shots in one column of the dialogue


class PlaywornShotChoice(bpy.types.PropertyGroup):
    """Another shot, and whether it is to have the dials."""

    is_chosen: bpy.props.BoolProperty(name="Give", description="Give this shot the dials; a locked one keeps its own")


class CopyDials(OnShot, bpy.types.Operator):
    """Give the dials of the chosen shot to other shots, each one in place of its own"""

    bl_idname = "playworn.copy_dials"
    bl_label = "Copy Dials"

    to: bpy.props.CollectionProperty(
        type=PlaywornShotChoice, name="Shots", description="Which shots", options={"SKIP_SAVE"}
    )

    @classmethod
    def lacking(cls, context: Context) -> str:
        if words := super().lacking(context):
            return words
        chosen = shots.chosen(context.scene)
        others = [shot for shot in shots.listed(context.scene) if shot != chosen]
        if not others:
            return "There is no other shot"
        return "All other shots are locked: unlock one first" if all(shot.locked for shot in others) else ""

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        chosen = self.chosen(context)
        for shot in shots.listed(context.scene):
            if shot != chosen:
                self.to.add().name = shot.name
        return context.window_manager.invoke_props_dialog(self, title=f"Copy Dials of {chosen.name}")

    def draw(self, context: Context) -> None:
        turned = shots.turns(self.chosen(context))
        self.layout.label(text=", ".join(turned) or "As the build")
        locked = {shot.name for shot in shots.listed(context.scene) if shot.locked}
        rows = self.layout.grid_flow(columns=1 + (len(self.to) - 1) // _COLUMN)
        for choice in self.to:
            if choice.name in locked:
                rows.label(text=choice.name, icon="LOCKED")
            else:
                rows.prop(choice, "is_chosen", text=choice.name)

    def act(self, context: Context) -> Report:
        name, to = self.chosen(context).name, [choice.name for choice in self.to if choice.is_chosen]
        usecases.copy_dials(context.scene, name, to)
        return "INFO", f"Dials of {name} copied to {', '.join(to)}"


CLASSES = (PlaywornShotChoice, CopyDials)
