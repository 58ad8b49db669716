"""The layers of the wear for the build: each one's amount over the preset's, and how large its picture is."""

import bpy

from ...core.presets.preset import Preset
from ...core.wear.layers import LAYERS, SIZES, size_mm, strength
from ...core.wear.quality import QUALITIES
from .. import gather
from ..context import Context, Settings, scene_of, settings_of
from ..presets import choices
from . import follow
from .resetting import Reset

_MM = "_mm"  # ends the names of sizes


def size_of(layer: str) -> str:
    """The property that holds the size of a layer's picture."""
    return f"{layer}{_MM}"


def out_of_reach(preset: Preset, quality: str) -> list[str]:
    """Sentences on the layers that no dial brings out, and why."""
    told = []
    for layer, about in LAYERS.items():
        if not strength(preset.wear, layer):
            told.append(
                f"{choices.label(preset.name)} has no {layer}: a dial multiplies, choose a preset that has some"
            )
        elif about.needs and not getattr(QUALITIES[quality], about.needs):
            told.append(f"{QUALITIES[quality].label} shows no {layer}")
    return told


def _amount(layer: str):
    def get(layers: "PlaywornLayers") -> float:
        return gather.layers(settings_of(scene_of(layers))).get(layer, 1.0)

    def put(layers: "PlaywornLayers", value: float) -> None:
        gather.dial_layer(settings_of(scene_of(layers)), layer, value)

    return bpy.props.FloatProperty(
        name=layer.title(),
        description=f"{LAYERS[layer].meaning}: 0 is none, 1 as the preset has it",
        min=0.0,
        max=gather.MOST,
        subtype="FACTOR",
        get=get,
        set=put,
        update=_follow,
    )


def _size(layer: str):
    def get(layers: "PlaywornLayers") -> float:
        preset = gather.known(settings_of(scene_of(layers)))
        return size_mm(preset.wear, layer) if preset else 0.0

    def put(layers: "PlaywornLayers", value: float) -> None:
        gather.change(settings_of(scene_of(layers)), layer, value)

    rule = SIZES[layer]
    return bpy.props.FloatProperty(
        name="Size (mm)", description=rule.meaning, min=rule.low, max=rule.high, get=get, set=put, update=_follow
    )


def _follow(layers: "PlaywornLayers", context: bpy.types.Context) -> None:
    follow.layers(settings_of(scene_of(layers)), context)


class PlaywornLayers(bpy.types.PropertyGroup):
    __annotations__ = {layer: _amount(layer) for layer in LAYERS} | {size_of(layer): _size(layer) for layer in SIZES}


class ResetLayers(Reset, bpy.types.Operator):
    """Bring the preset's own layers back, their amounts and sizes"""

    bl_idname = "playworn.reset_layers"
    what = "layers"

    @staticmethod
    def changed(settings: Settings) -> bool:
        return bool(gather.layers(settings) or gather.sizes(settings))

    @staticmethod
    def reset(settings: Settings, context: Context) -> None:
        gather.reset(settings, SIZES)
        settings.layer_dials = ""
        follow.layers(settings, context)
