"""Bringing exports in: chosen in the file browser, or dropped onto a 3D view.

In the window Esc gives up as long as another Blender tries the files. What follows cannot be stopped: Blender hands no
key to an operator at work, and its importers read a file in one go.
"""

from pathlib import Path
from typing import ClassVar

import bpy

from ... import usecases
from ...core.errors import PlaywornError
from .. import told
from ..context import Context, Ending
from ..files import OpensExport
from ..progress import progress
from ..steps import Steps, Stepwise
from ..wear.operators import Action, Report
from . import sight


class BringIn(Stepwise, OpensExport, Action, bpy.types.Operator):
    """Read a CAD export of a brick build into this scene, at true scale and in a collection of its own"""

    bl_idname = "playworn.bring_in"
    bl_label = "Bring In Brick Build"

    directory: bpy.props.StringProperty(subtype="DIR_PATH", options={"HIDDEN", "SKIP_SAVE"})
    files: bpy.props.CollectionProperty(type=bpy.types.OperatorFileListElement, options={"HIDDEN", "SKIP_SAVE"})

    every_s = 0.1  # between two looks at the Blender that tries a file
    given_up = "Given up: nothing was brought in"

    _refused: dict[Path, PlaywornError | None] | None = None  # of each file that was tried, why

    @property
    def is_chosen(self) -> bool:
        return bool(self.filepath or self.files)

    def steps(self, _context: Context) -> Steps:
        refused = self._refused = {}
        for path in self._paths():
            try:
                for _ in usecases.trying(path):
                    yield None, f"trying {path.name}"
                refused[path] = None
            except PlaywornError as problem:
                refused[path] = problem

    def ended(self, context: Context, _outcome: None) -> Ending:
        try:
            return super().execute(context)
        finally:
            self._refused = None  # done once more with other options, each is tried anew

    def act(self, context: Context) -> Report:
        builds, words, problems = [], [], []
        paths = self._paths()
        with progress(context) as show:
            for number, path in enumerate(paths):
                show(number / len(paths), f"reading {path.name}")
                try:
                    builds.append(self._bring(path))
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

    def _bring(self, path: Path) -> bpy.types.Collection:
        if self._refused is None:
            return usecases.bring_in(path, self.keep_objects)
        if problem := self._refused[path]:
            raise problem
        return usecases.bring_in(path, self.keep_objects, tried=True)

    def _paths(self) -> list[Path]:
        folder = bpy.path.abspath(self.directory)
        chosen = [Path(folder) / each.name for each in self.files if each.name]
        return chosen if len(chosen) > 1 or (chosen and not self.filepath) else [self.path]

    def _look(self, context: Context, build: bpy.types.Collection) -> tuple[str, str]:
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
