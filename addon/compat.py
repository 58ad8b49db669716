"""Every difference between Blender 4.5, 5.0 and 5.2, told by the feature itself and never by a version number."""

from typing import Any

import bpy

from .blender import choose, items_of


def eevee() -> str:
    """Identifier of the EEVEE engine: 'BLENDER_EEVEE' from 5.0 on, 'BLENDER_EEVEE_NEXT' in 4.5."""
    engines = items_of(bpy.types.RenderSettings, "engine").keys()
    return "BLENDER_EEVEE" if "BLENDER_EEVEE" in engines else "BLENDER_EEVEE_NEXT"


def node_tree(owner: bpy.types.Material | bpy.types.World) -> bpy.types.NodeTree:
    """The owner's node tree; 4.5 makes one on demand, later every material and world is born with one."""
    if owner.node_tree is None:
        owner.use_nodes = True
    tree = owner.node_tree
    assert tree is not None
    return tree


def shades_with_nodes(owner: bpy.types.Material | bpy.types.World) -> bool:
    """Whether the node tree is what the renderer sees; only 4.5 can switch it off (the switch is void from 5.0 on)."""
    if owner.node_tree is None:
        return False
    switch = owner.bl_rna.properties["use_nodes"]
    return getattr(switch, "is_deprecated", False) or owner.use_nodes


def set_file_format(settings: bpy.types.ImageFormatSettings, file_format: str) -> None:
    """Choose a still or multi-layer image format; from 5.0 on the kind of media has to be chosen before it."""
    if "media_type" in settings.bl_rna.properties:
        choose(settings, media_type="MULTI_LAYER_IMAGE" if file_format == "OPEN_EXR_MULTILAYER" else "IMAGE")
    choose(settings, file_format=file_format)


def keeps_raw_apart() -> bool:
    """Whether registered properties have a store of their own: from 5.0 on. All that an older file has in one store is
    in both there."""
    return hasattr(bpy.data.scenes[0], "bl_system_properties_get")  # an instance alone knows it


def registered(owner: bpy.types.ID | bpy.types.ViewLayer) -> Any:
    """The store of registered properties of a data-block, whether anybody registers them now or not; None for none."""
    return owner.bl_system_properties_get()  # pyright: ignore[reportAttributeAccessIssue]  no stub tells of it


def stores(owner: bpy.types.ID) -> list[Any]:
    """Where a data-block keeps properties that are not Blender's own."""
    apart = registered(owner) if keeps_raw_apart() else None
    return [owner] if apart is None else [owner, apart]


def curve_bag(animation: bpy.types.AnimData | bpy.types.NlaStrip) -> bpy.types.ActionChannelbag | None:
    """What holds the curves that animate a data-block; from 4.4 on an action keeps them by slot."""
    if animation.action is None:
        return None
    from bpy_extras.anim_utils import action_get_channelbag_for_slot

    return action_get_channelbag_for_slot(animation.action, animation.action_slot)


def curves(animation: bpy.types.AnimData | bpy.types.NlaStrip) -> list[bpy.types.FCurve]:
    """The curves that animate a data-block."""
    bag = curve_bag(animation)
    return [] if bag is None else list(bag.fcurves)


def nla_strips(animation: bpy.types.AnimData) -> list[bpy.types.NlaStrip]:
    """The strips of a data-block's animation, those inside of meta strips too."""
    strips = [strip for track in animation.nla_tracks for strip in track.strips]
    for strip in strips:
        strips.extend(strip.strips)
    return strips
