"""Each operator gathers what the panel says, calls one use case, and reports."""

from collections.abc import Callable
from typing import ClassVar, Literal

import bpy

from ... import usecases
from ...core.errors import PlaywornError
from .. import disk, gather, told
from ..context import Context, Ending, Operator
from ..files import Writes
from ..presets import choices
from ..progress import progress
from . import follow

Report = tuple[Literal["INFO", "WARNING"], str]  # its kind in Blender, and its words


class Action(Operator):
    """One undo step that ends in a report: done, done in part, or a sentence that says what to mend."""

    bl_options: ClassVar = {"REGISTER", "UNDO"}
    act: Callable[[Context], Report]

    def execute(self, context: Context) -> Ending:
        disk.look()
        try:
            kind, words = self.act(context)
        except PlaywornError as problem:
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        self.report({kind}, words)
        return {"FINISHED"}


class OnBuild(Action):
    """An action on the chosen build."""

    @classmethod
    def poll(cls, context: Context) -> bool:
        if context.scene.playworn.build is None:
            cls.poll_message_set("Choose a build or bring one in first")
            return False
        return True


class Apply(OnBuild, bpy.types.Operator):
    """Give the build the preset's fit and wear; nothing of it is lost, Clear brings it back exactly"""

    bl_idname = "playworn.apply"
    bl_label = "Apply"

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        preset = gather.preset(settings)
        with progress(context) as show:
            done = usecases.apply(settings.build, preset, gather.dials(settings), show)
        told.applied(settings.build, done)
        follow.measure(settings)
        words = f"{choices.label(preset.name)}: {done.sentence}"
        asides = [*preset.warnings, *filter(None, [done.warning])]
        if left_alone := sum(each.reason != usecases.PINNED for each in done.skipped):
            asides.append(f"{left_alone} left alone, the panel lists why")
        return "WARNING" if asides else "INFO", "; ".join([words, *asides])


class Clear(OnBuild, bpy.types.Operator):
    """Take all fit and wear off the build again, exactly as it was before"""

    bl_idname = "playworn.clear"
    bl_label = "Clear"

    @classmethod
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if not usecases.is_applied(context.scene.playworn.build):
            cls.poll_message_set("Nothing is applied to this build")
            return False
        return True

    def act(self, context: Context) -> Report:
        return "INFO", usecases.clear(context.scene.playworn.build).sentence


class ResetLimits(OnBuild, bpy.types.Operator):
    """Bring the preset's own limits back"""

    bl_idname = "playworn.reset_limits"
    bl_label = "Reset"

    @classmethod
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if not context.scene.playworn.changes:
            cls.poll_message_set("The limits are the preset's own")
            return False
        return True

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        settings.changes = ""
        follow.limits(settings, context)
        return "INFO", f"The limits are those of {choices.label(settings.preset_name)}"


class SavePicture(Writes, OnBuild, bpy.types.Operator):
    """Draw each brick in its own colour, the joints by how many studs hold, and every brick that nothing holds"""

    bl_idname = "playworn.save_picture"
    bl_label = "Save Picture"
    suffix = ".svg"

    filter_glob: bpy.props.StringProperty(default="*.svg", options={"HIDDEN"})

    def suggested(self, context: Context) -> str:
        return bpy.path.clean_name(context.scene.playworn.build.name)

    def act(self, context: Context) -> Report:
        usecases.save_picture(context.scene.playworn.build, self.path)
        return "INFO", f"Saved {self.path}"
