"""What the artist sets in the panel."""

import bpy

from ..core.wear.layers import PICTURES
from ..core.wear.quality import QUALITIES, ROUNDINGS, STANDARD, USUAL_ROUNDING
from .context import Settings
from .presets import choices
from .shots import shots
from .wear import by_hand, follow, layers, limits, story, window

_KINDS = " and ".join(", ".join(PICTURES).rsplit(", ", 1))


def _presets(settings: Settings, _context: bpy.types.Context | None) -> tuple[choices.Item, ...]:
    return choices.items(settings.preset_name, bool(settings.changes))


def _preset_number(settings: Settings) -> int:
    return [name for name, _, _ in choices.items(settings.preset_name)].index(settings.preset_name)


def _set_preset_number(settings: Settings, number: int) -> None:
    settings.preset_name, settings.changes = choices.items(settings.preset_name)[number][0], ""


class PlaywornSettings(by_hand.ByHand, bpy.types.PropertyGroup):
    build: bpy.props.PointerProperty(
        type=bpy.types.Collection,
        name="Build",
        description="Collection that holds the assembled model",
        update=follow.choose,
    )
    # The name is what is stored: the number of an item changes when presets come and go.
    preset_name: bpy.props.StringProperty(default="well-loved", options={"HIDDEN"})
    preset: bpy.props.EnumProperty(
        name="Preset",
        description="How the build has been handled: its fit and its wear",
        items=_presets,
        get=_preset_number,
        set=_set_preset_number,
        update=follow.reapply,
    )
    # Limits, sizes and parts of the story that differ from the preset's, as JSON: what is not changed follows it.
    changes: bpy.props.StringProperty(options={"HIDDEN"})
    limits: bpy.props.PointerProperty(
        type=limits.PlaywornLimits, name="Limits", description="How far the preset lets a brick go, each in its unit"
    )
    # Dials of layers that are not at 1, as JSON.
    layer_dials: bpy.props.StringProperty(options={"HIDDEN"})
    layers: bpy.props.PointerProperty(
        type=layers.PlaywornLayers, name="Layers", description="How much of each layer shows, and at which size"
    )
    story: bpy.props.PointerProperty(
        type=story.PlaywornStory, name="Story", description="What happened to the build: where its wear sits"
    )
    looseness: bpy.props.FloatProperty(
        name="Looseness",
        description="How far the bricks sit from where the export put them: 0 is exactly there, 1 is the preset",
        default=1.0,
        min=0.0,
        max=2.0,
        subtype="FACTOR",
        update=follow.dial,
    )
    seed: bpy.props.IntProperty(
        name="Seed",
        description="Each seed is another way in which the same bricks could have been pressed together",
        min=0,
        update=follow.dial,
    )
    wear: bpy.props.FloatProperty(
        name="Amount",
        description="How much of the wear shows: 0 is clean, 1 is the preset",
        default=1.0,
        min=0.0,
        max=2.0,
        subtype="FACTOR",
        update=follow.dial_wear,
    )
    quality: bpy.props.EnumProperty(
        name="Quality",
        description="How finely the wear is shaded, and what a render costs",
        items=[(each.name, each.label, each.meaning) for each in QUALITIES.values()],
        default=STANDARD.name,
        update=follow.reapply,
    )
    rounding: bpy.props.EnumProperty(
        name="Rounding",
        description="What rounds the edges of the bricks",
        items=[(name, name.capitalize(), meaning) for name, meaning in ROUNDINGS.items()],
        default=USUAL_ROUNDING,
        update=follow.reapply,
    )
    textures: bpy.props.StringProperty(
        name="Textures",
        description=f"Folder with your own images of {_KINDS}; without one, built-in ones are used",
        subtype="DIR_PATH",
        update=follow.textures,
    )
    # What pictures of that folder are for by hand, as JSON.
    texture_uses: bpy.props.StringProperty(options={"HIDDEN"})
    has_window: bpy.props.BoolProperty(
        name="Faced a Window",
        description="Light came from one side: what faced it has faded most, what looked away or was covered hardly",
        update=follow.reapply,
    )
    window_deg: window.angle("window")
    has_wall: bpy.props.BoolProperty(
        name="Stood to a Wall",
        description="One side stood to a wall: neither hands nor light got there",
        update=follow.reapply,
    )
    wall_deg: window.angle("wall")
    shots: bpy.props.PointerProperty(
        type=shots.PlaywornShots, name="Shots", description="The scene's shots and the dials of the chosen one"
    )
