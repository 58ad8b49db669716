"""Apply for more than the chosen build: of the scene, of the selection, of the whole file."""

import bpy

from ... import usecases
from .. import gather, told
from ..action import Action, Report
from ..context import Context
from ..presets import choices
from ..steps import Stepwise
from . import follow

SELECTION, SCENE, FILE = "SELECTION", "SCENE", "FILE"
SCOPES = (
    (SELECTION, "Builds of the Selection", "Every build in which a selected object stands"),
    (SCENE, "All Builds of the Scene", "Every build of this scene"),
    (FILE, "All Builds of the File", "Every build of every scene of this file"),
)


class ApplyToAll(Stepwise, Action, bpy.types.Operator):
    """Give several builds the preset and the dials as they are set"""

    bl_idname = "playworn.apply_to_all"
    bl_label = "Apply to Several"

    given_up = "Given up: all builds are as they were"

    scope: bpy.props.EnumProperty(name="Scope", description="Which builds get the preset", items=SCOPES, default=SCENE)

    @classmethod
    def description(cls, _context: Context, properties: "ApplyToAll") -> str:
        which = next(words for scope, _, words in SCOPES if scope == properties.scope)
        return f"{which} gets the preset and the dials as they are set"

    def steps(self, context: Context) -> usecases.Steps[list[usecases.OnOne]]:
        settings = context.scene.playworn
        self._preset, self._builds = gather.preset(settings), self._rooms(context)
        return usecases.applying_to_all(self._builds, self._preset, gather.dials(settings))

    def ended(self, context: Context, outcomes: list[usecases.OnOne]) -> Report:
        if not outcomes:
            return "WARNING", "No build is there: nothing was changed"
        for room, (_, done) in zip(self._builds, outcomes, strict=True):
            if done:
                told.applied(room, done)
                told.look_by_hand(room)
        follow.measure(context.scene.playworn)
        failed = [outcome for outcome, done in outcomes if not done]
        words = f"{choices.label(self._preset.name)} is on {len(outcomes) - len(failed)} of {len(outcomes)} builds"
        return "WARNING" if failed else "INFO", "; ".join([words, *(each.result for each in failed)])

    def _rooms(self, context: Context) -> list[bpy.types.Collection]:
        if self.scope == FILE:
            return usecases.builds_of_file()
        if self.scope == SELECTION:
            return usecases.builds_of_selection(context.scene, context.selected_objects)
        return usecases.builds_of_scene(context.scene)


class ApplyMenu(bpy.types.Menu):
    bl_idname = "PLAYWORN_MT_apply"
    bl_label = "Apply to Several"

    def draw(self, _context: Context) -> None:
        for scope, name, _ in SCOPES:
            self.layout.operator(ApplyToAll.bl_idname, text=name).scope = scope


CLASSES = (ApplyToAll, ApplyMenu)
