"""What the artist decides for single bricks: those that are selected, of the chosen build."""

from collections.abc import Callable

import bpy

from ... import usecases
from ..action import OnBuild, Report
from ..context import Context
from ..wear import follow


class OnSelection(OnBuild):
    """An action on the selected bricks of the chosen build; one that is applied follows at once."""

    mark: Callable[[bpy.types.Collection, list[bpy.types.Object]], str]  # what was done, in words

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or ("" if context.selected_objects else "Select bricks first")

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        words = self.mark(settings.build, context.selected_objects)
        follow.dial(settings, context)
        return "INFO", words


class Pin(OnSelection, bpy.types.Operator):
    """Leave the selected bricks where the export put them, with the others keeping clear; pins survive Clear"""

    bl_idname = "playworn.pin"
    bl_label = "Pin Bricks"

    def mark(self, build: bpy.types.Collection, things: list[bpy.types.Object]) -> str:
        return f"{_bricks(usecases.pin(build, things))} pinned"


class Unpin(OnSelection, bpy.types.Operator):
    """Let the selected bricks move with the fit again"""

    bl_idname = "playworn.unpin"
    bl_label = "Unpin Bricks"

    def mark(self, build: bpy.types.Collection, things: list[bpy.types.Object]) -> str:
        return f"{_bricks(usecases.unpin(build, things))} unpinned"


class RollAgain(OnSelection, bpy.types.Operator):
    """Draw the motions of the selected bricks anew, with the others only giving way; re-rolls survive Clear"""

    bl_idname = "playworn.roll_again"
    bl_label = "Re-roll Selected"

    def mark(self, build: bpy.types.Collection, things: list[bpy.types.Object]) -> str:
        return f"{_bricks(usecases.roll_again(build, things))} drawn anew"


class UndoRolls(OnSelection, bpy.types.Operator):
    """Give the selected bricks the motions back that they had before any re-roll"""

    bl_idname = "playworn.undo_rolls"
    bl_label = "Undo Re-rolls"

    def mark(self, build: bpy.types.Collection, things: list[bpy.types.Object]) -> str:
        return f"{_bricks(usecases.undo_rolls(build, things))} as first drawn"


class CountIn(OnSelection, bpy.types.Operator):
    """Count the selected objects as bricks of the build, whatever they look like; the choice survives Clear"""

    bl_idname = "playworn.count_in"
    bl_label = "Count as Brick"

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        count = usecases.count_in(settings.build, context.selected_objects)
        follow.look_again(settings, context)
        return "INFO", f"{_objects(count)} counted as bricks"


class LeaveOut(OnSelection, bpy.types.Operator):
    """Leave the selected objects alone, as no bricks of the build; the choice survives Clear"""

    bl_idname = "playworn.leave_out"
    bl_label = "Leave Out"

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        count = usecases.leave_out(settings.build, context.selected_objects)
        follow.look_again(settings, context)
        return "INFO", f"{_objects(count)} left out"


def _objects(count: int) -> str:
    return f"{count} {'object' if count == 1 else 'objects'}"


def _bricks(count: int) -> str:
    return f"{count} {'brick' if count == 1 else 'bricks'}"
