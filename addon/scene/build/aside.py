"""Bricks that a new version no longer has: they wait hidden, with all that is on them, in case they come back."""

from collections.abc import Iterable, Sequence

import bpy

from ...core.wear.names import OWN_MORE
from .. import curves
from . import builds, counted, pins, rolls

ROOM = "playworn_removed"  # on a build: the collection where its removed bricks wait
MARK = builds.ASIDE
ADDED = "playworn_added"  # on a brick that an update brought: the name it got
_BY_HAND = (pins.PINNED, rolls.ROLL, counted.COUNTED, OWN_MORE)


def room_of(build: bpy.types.Collection) -> bpy.types.Collection | None:
    """The collection in which removed bricks of a build wait, None where none ever did."""
    room = build.get(ROOM)
    return room if isinstance(room, bpy.types.Collection) else None


def waiting(build: bpy.types.Collection) -> list[bpy.types.Object]:
    room = room_of(build)
    return list(room.objects) if room else []


def put(build: bpy.types.Collection, things: Sequence[bpy.types.Object]) -> list[bpy.types.Object]:
    """Takes bricks out of a build; returns what nobody will want back: an update brought it and nobody touched it."""
    gone, leaving = [], set(things)
    for room in (
        *(scene.collection for scene in bpy.data.scenes),
        *bpy.data.collections,
    ):  # each thing asked for its rooms would look through all of them
        for thing in leaving.intersection(room.objects):
            room.objects.unlink(thing)
    for thing in things:
        if _is_untouched(thing):
            gone.append(thing)
        else:
            _room(build).objects.link(thing)
    return gone


def bring_back(build: bpy.types.Collection, things: Iterable[bpy.types.Object]) -> None:
    """Puts bricks that waited back into their build."""
    room = room_of(build)
    for thing in things:
        room.objects.unlink(thing)
        build.objects.link(thing)


def tidy(build: bpy.types.Collection) -> None:
    """Removes the collection where nothing waits in it any more."""
    room = room_of(build)
    if room is not None and not room.all_objects:
        bpy.data.collections.remove(room)
        if ROOM in build:
            del build[ROOM]


def forget(thing: bpy.types.Object) -> None:
    """An update did not bring this thing."""
    if ADDED in thing:
        del thing[ADDED]


def _room(build: bpy.types.Collection) -> bpy.types.Collection:
    room = room_of(build)
    if room is None:
        room = bpy.data.collections.new(f"{build.name} removed")
        room[MARK] = True
        room.hide_viewport = room.hide_render = True
        build[ROOM] = room
        for scene in builds.scenes_showing(build)[:1]:
            scene.collection.children.link(room)
    return room


def _is_untouched(thing: bpy.types.Object) -> bool:
    """Whether a brick came by an update and has nothing of the artist's on it."""
    if thing.get(ADDED) != thing.name or any(name in thing for name in _BY_HAND):
        return False
    return not (thing.modifiers or thing.constraints or thing.children or curves.artists_paths(thing))
