"""Which side of the build faced the window, and which stood to a wall: its angle, or that of the active object."""

from typing import ClassVar

import bpy

from ... import usecases
from ..action import OnBuild, Report
from ..context import Context


class _Towards(OnBuild):
    bl_label = "From Active Object"
    what: ClassVar[str]

    @classmethod
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if context.view_layer.objects.active is None:
            cls.poll_message_set(f"Select a lamp, or anything that stands where the {cls.what} is")
            return False
        return True

    def act(self, context: Context) -> Report:
        settings, thing = context.scene.playworn, context.view_layer.objects.active
        assert thing is not None
        angle = usecases.towards(settings.build, thing)
        was_there = getattr(settings, f"has_{self.what}")
        setattr(settings, f"{self.what}_deg", angle)
        if not was_there:
            setattr(settings, f"has_{self.what}", True)
        return "INFO", f'The {self.what} stands at {angle:g}°, where "{thing.name}" does'


class WindowTowards(_Towards, bpy.types.Operator):
    """Let the window stand where the active object does, a lamp say; it stays there when that is moved"""

    bl_idname = "playworn.window_towards"
    what = "window"


class WallTowards(_Towards, bpy.types.Operator):
    """Let the wall stand where the active object does; it stays there when that is moved"""

    bl_idname = "playworn.wall_towards"
    what = "wall"
