"""A build that goes from Blender to Blender, and all that is told of how it stands."""

import hashlib

import bpy

from addon import compat, usecases
from addon.core.shots.shot import Shot
from tests.blender import scenes


def make() -> None:
    """A small wall with deltas of the artist's on some bricks, and a shot with two settings, a lock and a note."""
    for number, thing in enumerate(scenes.wall(courses=2).objects):
        thing.delta_location.x = 0.016 * (number % 3)
        thing.location.x -= 0.016 * (number % 3)
    eye = bpy.data.objects.new("eye", bpy.data.cameras.new("eye"))
    eye.location = (0.0, -1.0, 0.0)
    scene = bpy.context.scene
    scene.collection.objects.link(eye)
    usecases.add_shot(scene, Shot("sh010", "eye", 1, 9))
    usecases.dial_shots(scene, {("sh010", "dust"): 0.25})
    usecases.set_shot(scene, "sh010", "B")
    usecases.dial_shots(scene, {("sh010", "dust"): 0.5})
    usecases.note_shot(scene, "sh010", "Fuge an der Tür")
    usecases.lock_shot(scene, "sh010")


def told() -> str:
    """How the bricks stand, to the bit, what is on any of them or on the scene, registered or raw, and the shots."""
    bits = b"".join(scenes.transforms(sorted(bpy.data.objects, key=lambda thing: thing.name)).values())
    names = sorted({name for owner in _owners() for store in compat.stores(owner) for name in store.keys()})  # noqa: SIM118  no dict
    return f"{hashlib.sha256(bits).hexdigest()} {_of_ours(names)} {usecases.list_shots(bpy.context.scene)}"


def _owners() -> list[bpy.types.ID]:
    return [*bpy.data.objects, *bpy.data.meshes, *bpy.data.materials, *bpy.data.collections, *bpy.data.scenes]


def _of_ours(names: list[str]) -> list[str]:
    return [name for name in names if name.startswith("playworn_")]  # `playworn` are the panel's own settings
