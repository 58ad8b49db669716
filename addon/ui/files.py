"""Operators on a file that Blender's file browser asks for."""

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

import bpy

from .. import usecases
from .context import Context, Ending, Operator


class Opens(Operator):
    """Reads the file that is chosen."""

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})

    @property
    def is_chosen(self) -> bool:
        """Whether there is a file already: one that was dropped, or that a script names."""
        return bool(self.filepath)

    @property
    def path(self) -> Path:
        return Path(bpy.path.abspath(self.filepath))

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}


class OpensExport(Opens):
    """Reads an export of a brick build."""

    filter_glob: bpy.props.StringProperty(
        default=";".join(f"*{suffix}" for suffix in usecases.SUFFIXES), options={"HIDDEN"}
    )
    keep_objects: bpy.props.BoolProperty(
        name="Keep Objects As They Are",
        description="Take each object of the export as one brick: take no mesh apart into bricks, and join none",
    )
    keep_alpha: bpy.props.BoolProperty(
        name="Keep Alpha As It Is",
        description="Blend what the export makes see-through with what lies behind, and make no clear plastic of it",
    )


class Writes(Opens):
    """Writes the file that is named, of one kind, and changes nothing in the open one."""

    bl_options: ClassVar = {"REGISTER"}
    suffix: ClassVar = ""
    suggested: Callable[[Context], str]  # its name without the suffix

    check_existing: bpy.props.BoolProperty(default=True, options={"HIDDEN"})

    @property
    def path(self) -> Path:
        return Path(bpy.path.abspath(bpy.path.ensure_ext(self.filepath, self.suffix)))

    def invoke(self, context: Context, event: bpy.types.Event) -> Ending:
        self.filepath = self.suggested(context) + self.suffix
        return super().invoke(context, event)
