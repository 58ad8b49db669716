"""Which side of the build faced the window: its angle, or that of the active object."""

import bpy

from ... import usecases
from ..action import OnBuild, Report
from ..context import Context


class WindowTowards(OnBuild, bpy.types.Operator):
    """Let the window stand where the active object does, a lamp say; it stays there when that is moved"""

    bl_idname = "playworn.window_towards"
    bl_label = "From Active Object"

    @classmethod
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if context.view_layer.objects.active is None:
            cls.poll_message_set("Select a lamp, or anything that stands where the window is")
            return False
        return True

    def act(self, context: Context) -> Report:
        settings, thing = context.scene.playworn, context.view_layer.objects.active
        assert thing is not None
        angle = usecases.window_towards(settings.build, thing)
        with_window = settings.has_window
        settings.window_deg = angle
        if not with_window:
            settings.has_window = True
        return "INFO", f'The window stands at {angle:g}°, where "{thing.name}" does'
