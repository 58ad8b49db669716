"""The preset's story as fields that the artist may change: what happened to the build moves where its wear sits."""

from dataclasses import Field, fields

import bpy

from ...core.wear.story import Story
from .. import gather
from ..context import Context, Settings, scene_of, settings_of
from . import follow
from .resetting import Reset

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


class ResetStory(Reset, bpy.types.Operator):
    """Bring the preset's own story back"""

    bl_idname = "playworn.reset_story"
    what = "story"
    verb = "is"

    @staticmethod
    def changed(settings: Settings) -> bool:
        return bool(gather.story(settings))

    @staticmethod
    def reset(settings: Settings, context: Context) -> None:
        gather.reset(settings, gather.STORY)
        follow.layers(settings, context)
