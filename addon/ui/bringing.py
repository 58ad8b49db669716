"""Bringing exports in: chosen in the file browser, or dropped onto a 3D view."""

from functools import partial
from pathlib import Path
from typing import ClassVar

import bpy

from .. import usecases
from ..core.errors import PlaywornError
from ..scene.exports.formats import FORMATS
from . import sight, told
from .files import Opens
from .operators import Action, Report
from .progress import progress


class BringIn(Opens, Action, bpy.types.Operator):
    """Read a CAD export of a brick build into this scene, at true scale and in a collection of its own"""

    bl_idname = "playworn.bring_in"
    bl_label = "Bring In Brick Build"

    filter_glob: bpy.props.StringProperty(default=";".join(f"*{suffix}" for suffix in FORMATS), options={"HIDDEN"})
    directory: bpy.props.StringProperty(subtype="DIR_PATH", options={"HIDDEN", "SKIP_SAVE"})
    files: bpy.props.CollectionProperty(type=bpy.types.OperatorFileListElement, options={"HIDDEN", "SKIP_SAVE"})
    keep_objects: bpy.props.BoolProperty(
        name="Keep Objects As They Are",
        description="Take each object of the export as one brick: take no mesh apart into bricks, and join none",
    )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if self.filepath or self.files:  # dropped: nothing is left to choose
            return self.execute(context)
        return super().invoke(context, event)

    def act(self, context: bpy.types.Context) -> Report:
        builds, words, problems = [], [], []
        paths = self._paths()
        with progress(context) as show:
            for number, path in enumerate(paths):
                show(number / len(paths), f"reading {path.name}")
                try:
                    trying = partial(show, number / len(paths), f"trying {path.name}")
                    builds.append(usecases.bring_in(path, self.keep_objects, trying))
                except PlaywornError as problem:
                    if len(paths) == 1:
                        raise
                    problems.append(str(problem))
                else:
                    show((number + 0.8) / len(paths), f"looking at {path.name}")
                    found, problem = self._look(context, builds[-1])
                    words.append(f"{path.name}: {found}")
                    problems += [problem] if problem else []
        if builds:
            left_out = [each.object for build in builds for each in _left_out(build)]
            sight.show(context, builds, left_out)
        return "WARNING" if problems else "INFO", "; ".join([*words, *problems])

    def _paths(self) -> list[Path]:
        folder = bpy.path.abspath(self.directory)
        chosen = [Path(folder) / each.name for each in self.files if each.name]
        return chosen if len(chosen) > 1 or (chosen and not self.filepath) else [self.path]

    def _look(self, context: bpy.types.Context, build: bpy.types.Collection) -> tuple[str, str]:
        """Makes a build the panel's; what was found, and what is wrong with it."""
        context.scene.playworn.build = build
        known = told.of(build)
        if known.inspection is None:
            return "cannot be looked at", known.problem
        none = "" if known.inspection.bricks else known.inspection.warnings[0]
        return known.inspection.sentence, none


def _left_out(build: bpy.types.Collection):
    inspection = told.of(build).inspection
    return inspection.left_out if inspection and inspection.bricks else ()


class DropExport(bpy.types.FileHandler):
    bl_idname = "PLAYWORN_FH_export"
    bl_label = "Brick Build"
    bl_import_operator = BringIn.bl_idname
    bl_file_extensions = ";".join(FORMATS)

    @classmethod
    def poll_drop(cls, context: bpy.types.Context) -> bool:
        return context.area is not None and context.area.type == "VIEW_3D"


class BrickColours(bpy.types.Operator):
    """Show every brick in a colour of its own, to see at a glance what is one brick; once more shows it as it was"""

    bl_idname = "playworn.brick_colours"
    bl_label = "Brick Colours"
    bl_options: ClassVar = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.screen is None:
            cls.poll_message_set("There is no 3D view")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        if sight.are_coloured(context.screen):
            sight.uncolour(context.screen)
        else:
            sight.colour(context.screen)
        return {"FINISHED"}


CLASSES = (BringIn, DropExport, BrickColours)
