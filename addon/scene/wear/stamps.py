"""Raw properties that shaders read, also where the extension is not installed; 0 always means clean."""

from collections.abc import Collection, Generator, Mapping

import bpy
import numpy as np

from ... import raw
from ...core import threads
from ...core.slices import whole
from ...core.wear import marking, tint
from ...core.wear.feet import feet
from ...core.wear.names import LOT, MORE, OFFSET, SHARE, SHARES_OF, SHELTERED, SPOT, TURN, UNLIT, UNREACHED, WEAR
from ...core.wear.placement.placement import Placement
from ..build import homes
from ..build.build import Build

__all__ = ["LOT", "MORE", "OFFSET", "SHARE", "SPOT", "TURN", "WEAR"]
_ON_BRICK = (*SHARES_OF, OFFSET, TURN, SPOT, LOT)
_PLACED = (*UNREACHED, *SHELTERED, *UNLIT)
_AT_ONCE = 100  # bricks


def write(build: Build, among: Collection[bpy.types.Object] | None = None) -> None:
    """Stamps every brick that this file may change, or only those among some."""
    whole(writing(build, among))


def writing(build: Build, among: Collection[bpy.types.Object] | None = None) -> Generator[None, None, None]:
    """The same in parts."""
    keys = build.bricks.key
    sizes = (build.scale[:, 0] * build.scale[:, 1] * build.scale[:, 2]) ** (1.0 / 3.0)
    turn, origin = homes.first_stood(build)
    studded = feet(build.bricks, turn, origin)
    spots = marking.spots(turn, origin - studded.shift, build.middle, sizes)
    drawn = {
        **_shares(keys),
        OFFSET: marking.offsets(keys),
        TURN: marking.turns(keys, sizes, studded.on),
        SPOT: spots,
        LOT: tint.lots(keys),
    }
    yield
    yield from _stamping(build, drawn, among)


def placing(build: Build, placement: Placement) -> Generator[None, None, None]:
    """Tells every brick that this file may change which of its sides hands, the sky and a window get to, in parts."""
    lower, upper = slice(0, None, 2), slice(1, None, 2)
    found = [placement.out_of_reach, placement.sheltered]
    if placement.light is None:
        for thing in build.objects:
            if UNLIT[0] in thing and thing.is_editable:
                raw.drop(thing, *UNLIT)
    else:
        found.append(1.0 - placement.light)
    told = [each[:, half] for each in found for half in (lower, upper)]
    yield from _stamping(build, dict(zip(_PLACED, told, strict=False)))


def any_lit() -> bool:
    """Whether a brick of the file knows of a window."""
    return any(UNLIT[0] in thing for thing in bpy.data.objects)


def _stamping(
    build: Build, stamps: dict[str, np.ndarray], among: Collection[bpy.types.Object] | None = None
) -> Generator[None, None, None]:
    """Puts stamps, of which each brick has a row, on every brick that this file may change, or on those among some."""
    rows = zip(build.objects, *(each.tolist() for each in stamps.values()), strict=True)
    wanted = [each for each in rows if each[0].is_editable and (among is None or each[0] in among)]
    yield
    for some in threads.slices(len(wanted), _AT_ONCE):
        raw.keep_all([thing for thing, *_ in wanted[some]], tuple(stamps))
        for thing, *own in wanted[some]:
            for name, stamp in zip(stamps, own, strict=True):
                thing[name] = stamp
        yield


def _shares(keys: np.ndarray) -> dict[str, np.ndarray]:
    """The shares three to a property (N, 3), as shaders read vectors; what is over is 1."""
    shares = marking.shares(keys)
    whole = np.ones((len(keys), 3 * len(SHARES_OF)))
    whole[:, : shares.shape[1]] = shares
    return dict(zip(SHARES_OF, np.split(whole, len(SHARES_OF), axis=1), strict=True))


def clear(objects: list[bpy.types.Object]) -> None:
    whole(clearing(objects))


def clearing(objects: list[bpy.types.Object]) -> Generator[None, None, None]:
    """Takes the stamps off, in parts."""
    for some in threads.slices(len(objects), _AT_ONCE):
        for thing in objects[some]:
            raw.drop(thing, *_ON_BRICK, *_PLACED)
        yield


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
