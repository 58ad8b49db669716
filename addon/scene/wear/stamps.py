"""Raw properties that shaders read, also where the extension is not installed; 0 always means clean."""

from collections.abc import Collection, Mapping

import bpy
import numpy as np

from ... import raw
from ...core.wear import marking, tint
from ...core.wear.names import LOT, MORE, OFFSET, SHARE, SHARES_OF, TURN, WEAR
from ..build.build import Build

__all__ = ["LOT", "MORE", "OFFSET", "SHARE", "TURN", "WEAR"]
_ON_BRICK = (*SHARES_OF, OFFSET, TURN, LOT)


def write(build: Build, among: Collection[bpy.types.Object] | None = None) -> None:
    """Stamps every brick that this file may change, or only those among some."""
    keys = build.bricks.key
    sizes = (build.scale[:, 0] * build.scale[:, 1] * build.scale[:, 2]) ** (1.0 / 3.0)
    raw.keep_all([thing for thing in build.objects if thing.is_editable], _ON_BRICK)
    drawn = {**_shares(keys), OFFSET: marking.offsets(keys), TURN: marking.turns(keys, sizes), LOT: tint.lots(keys)}
    for thing, *stamps in zip(build.objects, *(each.tolist() for each in drawn.values()), strict=True):
        if thing.is_editable and (among is None or thing in among):
            for name, stamp in zip(drawn, stamps, strict=True):
                thing[name] = stamp


def _shares(keys: np.ndarray) -> dict[str, np.ndarray]:
    """The shares three to a property (N, 3), as shaders read vectors; what is over is 1."""
    shares = marking.shares(keys)
    whole = np.ones((len(keys), 3 * len(SHARES_OF)))
    whole[:, : shares.shape[1]] = shares
    return dict(zip(SHARES_OF, np.split(whole, len(SHARES_OF), axis=1), strict=True))


def clear(objects: list[bpy.types.Object]) -> None:
    for thing in objects:
        raw.drop(thing, *_ON_BRICK)


def set_wear(scene: bpy.types.Scene, wear: float) -> None:
    if scene.get(WEAR) != wear:  # a tagged scene takes Blender longer than all its bricks
        raw.put(scene, WEAR, float(wear))
        scene.update_tag()


def set_layers(scene: bpy.types.Scene, factors: Mapping[str, float]) -> None:
    """Multiplies the amounts of layers; one that is not named has what its preset says."""
    wanted = {MORE[layer]: factor - 1.0 for layer, factor in factors.items() if factor != 1.0}
    if wanted == {name: scene[name] for name in MORE.values() if name in scene}:
        return
    for name in MORE.values():
        if name in wanted:
            raw.put(scene, name, wanted[name])
        else:
            raw.drop(scene, name)
    scene.update_tag()


def clear_wear(scene: bpy.types.Scene) -> None:
    set_layers(scene, {})
    if WEAR in scene:
        raw.drop(scene, WEAR)
        scene.update_tag()
