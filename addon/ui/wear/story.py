"""The preset's story as fields that the artist may change: what happened to the build moves where its wear sits."""

from dataclasses import Field, fields

import bpy

from ...core.wear.story import Story
from .. import gather
from ..action import OnBuild, Report
from ..context import Context, scene_of, settings_of
from ..presets import choices
from . import follow

_LABELS = {"grip": "Grip", "played": "Played With", "dusted": "Dusted"}


def _property(field: Field):
    name, rule = field.name, field.metadata["rule"]

    def get(story: "PlaywornStory") -> float:
        preset = gather.known(settings_of(scene_of(story)))
        return getattr(preset.story, name) if preset else 0.0

    def put(story: "PlaywornStory", value: float) -> None:
        gather.change(settings_of(scene_of(story)), name, value)

    return bpy.props.FloatProperty(
        name=_LABELS[name],
        description=rule.meaning,
        min=rule.low,
        max=rule.high,
        subtype="FACTOR",
        get=get,
        set=put,
        update=lambda story, context: follow.layers(settings_of(scene_of(story)), context),
    )


class PlaywornStory(bpy.types.PropertyGroup):
    __annotations__ = {field.name: _property(field) for field in fields(Story)}


class ResetStory(OnBuild, bpy.types.Operator):
    """Bring the preset's own story back"""

    bl_idname = "playworn.reset_story"
    bl_label = "Reset"

    @classmethod
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if not gather.story(context.scene.playworn):
            cls.poll_message_set("The story is the preset's own")
            return False
        return True

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        gather.reset(settings, gather.STORY)
        follow.layers(settings, context)
        return "INFO", f"The story is that of {choices.label(settings.preset_name)}"
