"""The preset's fit as fields that the artist may change: the preset's own rules give ranges, units and words."""

from dataclasses import Field, fields

import bpy

from ...core.presets.preset import Fit
from .. import gather
from ..context import scene_of, settings_of
from . import follow


def label(field: Field) -> str:
    """The field's name with its unit: shift_mm reads Shift (mm)."""
    word, unit = field.name.partition("_")[0].title(), field.metadata["rule"].unit
    return f"{word} ({unit})" if unit else word


def _get(name: str):
    def get(limits: "PlaywornLimits") -> float:
        preset = gather.known(settings_of(scene_of(limits)))
        return getattr(preset.fit, name) if preset else 0.0

    return get


def _set(name: str):
    def put(limits: "PlaywornLimits", value: float) -> None:
        gather.change(settings_of(scene_of(limits)), name, value)

    return put


def _property(field: Field):
    rule = field.metadata["rule"]
    return bpy.props.FloatProperty(
        name=label(field),
        description=rule.meaning,
        min=rule.low,
        max=rule.high,
        precision=3,
        subtype="FACTOR",
        get=_get(field.name),
        set=_set(field.name),
        update=lambda limits, context: follow.limits(settings_of(scene_of(limits)), context),
    )


class PlaywornLimits(bpy.types.PropertyGroup):
    __annotations__ = {field.name: _property(field) for field in fields(Fit)}
