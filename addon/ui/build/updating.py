"""The next version of an export in the place of the one before, and what it changed.

In the window it goes step by step: between two of them Esc gives up, and everything is as it was.
"""

from typing import ClassVar

import bpy

from ... import usecases
from ...core.pictures.difference import CHANGES, Difference, Updated
from .. import panels, told
from ..action import OnBuild, Report
from ..context import Context
from ..files import OpensExport, Writes
from ..paragraphs import paragraph
from ..steps import Stepwise
from ..wear import follow


class Update(Stepwise, OpensExport, OnBuild, bpy.types.Operator):
    """Take in the next version of the export: what is the same keeps its look and all that you did to it"""

    bl_idname = "playworn.update"
    bl_label = "Update From Export"

    def steps(self, context: Context) -> usecases.Steps[tuple[Updated, Difference]]:
        self._build = context.scene.playworn.build
        return usecases.updating(self._build, self.path, self.keep_objects, self.keep_alpha)

    def ended(self, context: Context, outcome: tuple[Updated, Difference]) -> Report:
        (done, seen), build = outcome, self._build
        told.updated(build, done, seen)
        follow.look(context.scene.playworn)
        asides = [f"{len(done.skipped)} could not follow the export, the panel lists why"] if done.skipped else []
        if done.cut:
            asides.append(f"{done.cut} places are beyond the limits: apply the preset anew")
        return "WARNING" if asides else "INFO", "; ".join([done.sentence, *asides])


class SaveDifference(Writes, OnBuild, bpy.types.Operator):
    """Draw which bricks were kept, moved, recoloured, added and removed by the last update"""

    bl_idname = "playworn.save_difference"
    bl_label = "Save Picture of Changes"
    suffix = ".svg"

    filter_glob: bpy.props.StringProperty(default="*.svg", options={"HIDDEN"})

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "Update the build first" if told.update_of(context.scene.playworn.build) is None else ""
        )

    def suggested(self, context: Context) -> str:
        return bpy.path.clean_name(f"{context.scene.playworn.build.name} changes")

    def act(self, context: Context) -> Report:
        build = context.scene.playworn.build
        usecases.save_difference(build.name, told.update_of(build).seen, self.path)
        return "INFO", f"Saved {self.path}"


class ChangesPanel(panels.BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_changes"
    bl_label = "Changes"
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: Context) -> bool:
        return super().poll(context) and told.update_of(context.scene.playworn.build) is not None

    def draw(self, context: Context) -> None:
        layout, known = self.layout, told.update_of(context.scene.playworn.build)
        counts = ", ".join(f"{getattr(known.done, change)} {change}" for change in CHANGES)
        paragraph(layout, context, counts)
        panels.listed(layout, context, known.changes)
        panels.listed(layout, context, known.skipped)
        layout.operator("playworn.save_difference", icon="IMAGE_DATA")


CLASSES = (Update, SaveDifference)
PANELS = (ChangesPanel,)
