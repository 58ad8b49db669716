"""Raw properties that shaders read, also where the extension is not installed; 0 always means clean."""

from collections.abc import Collection, Mapping

import bpy

from ...core.presets.preset import LAYERS
from ...core.wear import marking, tint
from ..build.build import Build

SHARE = "playworn_share"  # on a brick: its shares of the amounts of scratches, rub and fade, never 0
OFFSET = "playworn_offset"  # on a brick: how far its marks are shifted, in mm
TURN = "playworn_turn"  # on a brick: how they are turned, and millimetres per unit of its mesh's axes
LOT = "playworn_lot"  # on a brick: how its colour lot deviates in red, green and blue, -1 to 1
WEAR = "playworn_wear"  # on the scene: the dial over all wear
MORE = {layer: f"playworn_more_{layer}" for layer in LAYERS}  # on the scene: so much more of a layer, -1 none


def write(build: Build, among: Collection[bpy.types.Object] | None = None) -> None:
    """Stamps every brick that this file may change, or only those among some."""
    keys = build.bricks.key
    sizes = (build.scale[:, 0] * build.scale[:, 1] * build.scale[:, 2]) ** (1.0 / 3.0)
    drawn = marking.shares(keys), marking.offsets(keys), marking.turns(keys, sizes), tint.lots(keys)
    stamped = (each.tolist() for each in drawn)
    for thing, share, offset, turn, lot in zip(build.objects, *stamped, strict=True):
        if thing.is_editable and (among is None or thing in among):
            thing[SHARE], thing[OFFSET], thing[TURN], thing[LOT] = share, offset, turn, lot


def clear(objects: list[bpy.types.Object]) -> None:
    for thing in objects:
        for name in (SHARE, OFFSET, TURN, LOT):
            if name in thing:
                del thing[name]


def set_wear(scene: bpy.types.Scene, wear: float) -> None:
    if scene.get(WEAR) != wear:  # a tagged scene takes Blender longer than all its bricks
        scene[WEAR] = float(wear)
        scene.update_tag()


def set_layers(scene: bpy.types.Scene, factors: Mapping[str, float]) -> None:
    """Multiplies the amounts of layers; one that is not named has what its preset says."""
    wanted = {MORE[layer]: factor - 1.0 for layer, factor in factors.items() if factor != 1.0}
    if wanted == {name: scene[name] for name in MORE.values() if name in scene}:
        return
    for name in MORE.values():
        if name in wanted:
            scene[name] = wanted[name]
        elif name in scene:
            del scene[name]
    scene.update_tag()


def clear_wear(scene: bpy.types.Scene) -> None:
    set_layers(scene, {})
    if WEAR in scene:
        del scene[WEAR]
        scene.update_tag()
