"""Each operator gathers what the panel says, calls one use case, and reports."""

from typing import ClassVar

import bpy

from ... import usecases
from ...core import report
from ...core.errors import PlaywornError
from ...core.presets.preset import Preset
from ...core.slices import telling
from .. import gather, told
from ..action import OnBuild, Report
from ..context import Context, Ending, Settings
from ..files import Writes
from ..presets import choices
from ..steps import Stepwise
from . import follow
from .resetting import Reset


class Applying(Stepwise, OnBuild):
    """Puts a look on the chosen build."""

    def applying(
        self, build: bpy.types.Collection, preset: Preset, dials: usecases.Dials
    ) -> usecases.Steps[report.Applied]:
        self._build, self._preset = build, preset
        if dials.textures:
            measuring = usecases.surveying_textures(dials.textures, preset, dials.uses)
            yield from telling((0.0, "measuring the textures"), measuring)
        return (yield from usecases.applying(build, preset, dials))

    def ended(self, context: Context, done: report.Applied) -> Report:
        told.applied(self._build, done)
        told.look_by_hand(self._build)
        follow.measure(context.scene.playworn)
        words = f"{choices.label(self._preset.name)}: {done.sentence}"
        asides = [*self._preset.warnings, *filter(None, [done.warning])]
        if left_alone := sum(each.reason != usecases.PINNED for each in done.skipped):
            asides.append(f"{left_alone} left alone, the panel lists why")
        return "WARNING" if asides or done.shots_off else "INFO", "; ".join([words, *asides])


class Apply(Applying, bpy.types.Operator):
    """Give the build the preset's fit and wear; nothing of it is lost, Clear brings it back exactly"""

    bl_idname = "playworn.apply"
    bl_label = "Apply"

    def steps(self, context: Context) -> usecases.Steps[report.Applied]:
        settings = context.scene.playworn
        return self.applying(settings.build, gather.preset(settings), gather.dials(settings))


class Reapply(Applying, bpy.types.Operator):
    """Give a build that has a look on it what was chosen in the panel"""

    bl_idname = "playworn.reapply"
    bl_label = "Apply Choice"
    bl_options: ClassVar = {"UNDO", "INTERNAL"}
    given_up = "Given up: the build keeps the look that it had"

    @classmethod
    def poll(cls, context: Context) -> bool:
        return super().poll(context) and follow.asked is not None

    def steps(self, context: Context) -> usecases.Steps[report.Applied]:
        assert follow.asked is not None
        self._asked, follow.asked = follow.asked, None
        return self.applying(context.scene.playworn.build, self._asked.preset, self._asked.dials)

    def ended(self, context: Context, done: report.Applied) -> Report:
        self._asked.show(context.scene.playworn)
        return super().ended(context, done)

    def failed(self, context: Context, problem: PlaywornError) -> Ending:
        self._asked.show(context.scene.playworn, problem)
        follow.measure(context.scene.playworn)
        return super().failed(context, problem)


class Clear(Stepwise, OnBuild, bpy.types.Operator):
    """Take all fit and wear off the build again, exactly as it was before"""

    bl_idname = "playworn.clear"
    bl_label = "Clear"

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if usecases.is_applied(context.scene.playworn.build) else "Nothing is applied to this build"
        )

    def steps(self, context: Context) -> usecases.Steps[report.Cleared]:
        return usecases.clearing(context.scene.playworn.build)

    def ended(self, context: Context, done: report.Cleared) -> Report:
        told.look_by_hand(context.scene.playworn.build)
        return "WARNING" if done.stays else "INFO", done.sentence


class ResetLimits(Reset, bpy.types.Operator):
    """Bring the preset's own limits back"""

    bl_idname = "playworn.reset_limits"
    what = "limits"

    @staticmethod
    def changed(settings: Settings) -> bool:
        return bool(gather.limits(settings))

    @staticmethod
    def reset(settings: Settings, context: Context) -> None:
        gather.reset(settings, gather.FIT)
        follow.limits(settings, context)


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
