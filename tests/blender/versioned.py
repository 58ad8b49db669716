"""A build that goes from Blender to Blender, and all that is told of how it stands."""

import hashlib

import bpy

from addon import compat
from tests.blender import scenes


def make() -> None:
    """A small wall with deltas of the artist's on some bricks."""
    for number, thing in enumerate(scenes.wall(courses=2).objects):
        thing.delta_location.x = 0.016 * (number % 3)
        thing.location.x -= 0.016 * (number % 3)


def told() -> str:
    """How the bricks stand, to the bit, and what is on any of them or on the scene, registered or raw."""
    bits = b"".join(scenes.transforms(sorted(bpy.data.objects, key=lambda thing: thing.name)).values())
    names = sorted({name for owner in _owners() for store in compat.stores(owner) for name in store.keys()})  # noqa: SIM118  no dict
    return f"{hashlib.sha256(bits).hexdigest()} {_of_ours(names)}"


def _owners() -> list[bpy.types.ID]:
    return [*bpy.data.objects, *bpy.data.meshes, *bpy.data.materials, *bpy.data.collections, *bpy.data.scenes]


def _of_ours(names: list[str]) -> list[str]:
    return [name for name in names if name.startswith("playworn_")]  # `playworn` are the panel's own settings
