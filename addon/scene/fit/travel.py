"""How far each brick went from where the export put it, told to shaders for the pass of the motion."""

from collections.abc import Iterable

import bpy
import numpy as np

from ... import raw
from ...core.fit import motions as moving
from ...core.wear.names import MOTION
from ..build.build import Build
from . import motion
from .deltas import Deltas

PATH = f'["{MOTION}"]'


def far(build: Build, stance: Deltas) -> np.ndarray:
    """How far (N,) in mm, float32, deltas of all bricks take the farthest corner of each one's body."""
    return moving.farthest(build.bricks, motion.by(build, stance)).astype(np.float32)


def tell(build: Build) -> None:
    """Puts onto every brick that this file may change how far it went."""
    standing = moving.farthest(build.bricks, motion.measured(build)).astype(np.float32).tolist()
    ways = {thing: way for thing, way in zip(build.objects, standing, strict=True) if thing.is_editable}
    raw.keep_all(ways, (MOTION,))
    for thing, way in ways.items():
        thing[MOTION] = way
        thing.update_tag()


def any_told(things: Iterable[bpy.types.Object]) -> bool:
    """Whether any of some objects knows how far it went."""
    return any(raw.carried(things, MOTION))


def follow(build: Build) -> None:
    """Tells it anew where it is told."""
    if any_told(build.objects):
        tell(build)


def forget(things: Iterable[bpy.types.Object]) -> None:
    """Takes it off."""
    for thing in things:
        if MOTION in thing and thing.is_editable:
            raw.drop(thing, MOTION)
