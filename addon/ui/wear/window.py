"""Which side of the build faced the window, and which stood to a wall: its angle, or that of the active object."""

from typing import ClassVar

import bpy

from ... import usecases
from ..action import OnBuild, Report
from ..context import Context, Settings
from . import follow


class _Towards(OnBuild):
    bl_label = "From Active Object"
    what: ClassVar[str]

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            f"Select a lamp, or anything that stands where the {cls.what} is"
            if context.view_layer.objects.active is None
            else ""
        )

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


def draw(column: bpy.types.UILayout, settings: Settings, towards: type[_Towards]) -> None:
    """Whether there is one, and where it stands."""
    column.prop(settings, f"has_{towards.what}")
    row = column.row(align=True)
    row.active = getattr(settings, f"has_{towards.what}")
    row.prop(settings, f"{towards.what}_deg")
    row.operator(towards.bl_idname, text="", icon="EYEDROPPER")


def angle(what: str):
    """The field that tells where it stands."""
    return bpy.props.FloatProperty(
        name=f"{what.capitalize()} (°)",
        description=f"Where the {what} stands, from the build's own x axis anticlockwise, seen from above",
        min=0.0,
        max=360.0,
        step=1500,
        precision=0,
        update=follow.reapply,
    )
