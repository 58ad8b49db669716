"""Bringing exports in: chosen in the file browser, or dropped onto a 3D view.

In the window Esc gives up between two steps. Blender's own importer is one such step, which cannot be stopped.
"""

from pathlib import Path
from typing import ClassVar

import bpy

from ... import usecases
from .. import told
from ..action import Action, Report
from ..context import Context, Ending
from ..files import OpensExport
from ..steps import Stepwise
from ..wear import follow
from . import sight


class BringIn(Stepwise, OpensExport, Action, bpy.types.Operator):
    """Read a CAD export of a brick build into this scene, at true scale and in a collection of its own"""

    bl_idname = "playworn.bring_in"
    bl_label = "Bring In Brick Build"

    directory: bpy.props.StringProperty(subtype="DIR_PATH", options={"HIDDEN", "SKIP_SAVE"})
    files: bpy.props.CollectionProperty(type=bpy.types.OperatorFileListElement, options={"HIDDEN", "SKIP_SAVE"})

    given_up = "Given up: nothing was brought in"

    @property
    def is_chosen(self) -> bool:
        return bool(self.filepath or self.files)

    def steps(self, _context: Context) -> usecases.Steps[list[usecases.Brought]]:
        return usecases.bringing_in(self._paths(), self.keep_objects, self.keep_alpha)

    def ended(self, context: Context, outcomes: list[usecases.Brought]) -> Report:
        builds, words, problems = [], [], []
        for each in outcomes:
            if each.build is None:
                problems.append(str(each.problem))
                continue
            builds.append(each.build)
            found, problem = self._shown(context, each)
            words.append(f"{each.path.name}: {found}")
            problems += [problem] if problem else []
        if builds:
            left_out = [each.object for build in builds for each in _left_out(build)]
            sight.show(context, builds, left_out)
        return "WARNING" if problems else "INFO", "; ".join([*words, *problems])

    def _paths(self) -> list[Path]:
        folder = bpy.path.abspath(self.directory)
        chosen = [Path(folder) / each.name for each in self.files if each.name]
        return chosen if len(chosen) > 1 or (chosen and not self.filepath) else [self.path]

    def _shown(self, context: Context, brought: usecases.Brought) -> tuple[str, str]:
        """Makes a build the panel's; what was found, and what is wrong with it."""
        follow.choose_brought(context.scene.playworn, brought)
        if brought.inspection is None:
            return "cannot be looked at", str(brought.problem)
        none = "" if brought.inspection.bricks else brought.inspection.warnings[0]
        return brought.inspection.sentence, none


def _left_out(build: bpy.types.Collection):
    inspection = told.of(build).inspection
    return inspection.left_out if inspection and inspection.bricks else ()


class DropExport(bpy.types.FileHandler):
    bl_idname = "PLAYWORN_FH_export"
    bl_label = "Brick Build"
    bl_import_operator = BringIn.bl_idname
    bl_file_extensions = ";".join(usecases.SUFFIXES)

    @classmethod
    def poll_drop(cls, context: Context) -> bool:
        return context.area is not None and context.area.type == "VIEW_3D"


class BrickColours(bpy.types.Operator):
    """Show every brick in a colour of its own, to see at a glance what is one brick; once more shows it as it was"""

    bl_idname = "playworn.brick_colours"
    bl_label = "Brick Colours"
    bl_options: ClassVar = {"REGISTER"}

    @classmethod
    def poll(cls, context: Context) -> bool:
        if context.screen is None:
            cls.poll_message_set("There is no 3D view")
            return False
        return True

    def execute(self, context: Context) -> Ending:
        if sight.are_coloured(context.screen):
            sight.uncolour(context.screen)
        else:
            sight.colour(context.screen)
        return {"FINISHED"}


CLASSES = (BringIn, DropExport, BrickColours)
