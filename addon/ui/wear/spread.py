"""Apply for more than the chosen build: of the scene, of the selection, of the whole file."""

import bpy

from ... import usecases
from .. import gather, told
from ..context import Context
from ..presets import choices
from ..progress import progress
from . import follow
from .operators import Action, Report

SELECTION, SCENE, FILE = "SELECTION", "SCENE", "FILE"
SCOPES = (
    (SELECTION, "Builds of the Selection", "Every build in which a selected object stands"),
    (SCENE, "All Builds of the Scene", "Every build of this scene"),
    (FILE, "All Builds of the File", "Every build of every scene of this file"),
)


class ApplyToAll(Action, bpy.types.Operator):
    """Give several builds the preset and the dials as they are set"""

    bl_idname = "playworn.apply_to_all"
    bl_label = "Apply to Several"

    scope: bpy.props.EnumProperty(name="Scope", description="Which builds get the preset", items=SCOPES, default=SCENE)

    @classmethod
    def description(cls, _context: Context, properties: "ApplyToAll") -> str:
        which = next(words for scope, _, words in SCOPES if scope == properties.scope)
        return f"{which} gets the preset and the dials as they are set"

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        preset, rooms = gather.preset(settings), self._rooms(context)
        if not rooms:
            return "WARNING", "No build is there: nothing was changed"
        outcomes = []
        with progress(context) as show:
            all_done = usecases.apply_to_all(rooms, preset, gather.dials(settings), show)
            for room, (outcome, done) in zip(rooms, all_done, strict=True):
                outcomes.append(outcome)
                if done:
                    told.applied(room, done)
        follow.measure(settings)
        failed = [each for each in outcomes if not each.is_done]
        words = f"{choices.label(preset.name)} is on {len(outcomes) - len(failed)} of {len(outcomes)} builds"
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
