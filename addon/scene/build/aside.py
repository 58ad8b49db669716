"""Bricks that a new version no longer has: they wait hidden, with all that is on them, in case they come back."""

from collections.abc import Iterable, Sequence

import bpy

from ..wear import originals, slots
from . import builds

ROOM = "playworn_removed"  # on a build: the collection where its removed bricks wait
MARK = builds.ASIDE


def room_of(build: bpy.types.Collection) -> bpy.types.Collection | None:
    """The collection in which removed bricks of a build wait, None where none ever did."""
    room = build.get(ROOM)
    return room if isinstance(room, bpy.types.Collection) else None


def waiting(build: bpy.types.Collection) -> list[bpy.types.Object]:
    room = room_of(build)
    return list(room.objects) if room else []


def put(
    build: bpy.types.Collection, things: Sequence[bpy.types.Object], untouched: set[bpy.types.Object]
) -> list[bpy.types.Object]:
    """Takes bricks out of a build; returns what nobody will want back: of those that nobody touched the ones that show
    nothing which others do not show as well."""
    gone, leaving = _others_show(untouched.intersection(things)), set(things)
    for room in (
        *(scene.collection for scene in bpy.data.scenes),
        *bpy.data.collections,
    ):  # each thing asked for its rooms would look through all of them
        for thing in leaving.intersection(room.objects):
            room.objects.unlink(thing)
    for thing in things:
        if thing not in gone:
            _room(build).objects.link(thing)
    return [thing for thing in things if thing in gone]


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


def _others_show(things: set[bpy.types.Object]) -> set[bpy.types.Object]:
    """Those of some bricks whose mesh and materials others show too, which stay: these are not lost with them."""
    if not things:
        return things
    shown = {block for thing in bpy.data.objects if thing not in things for block in _shown(thing)}
    return {thing for thing in things if shown.issuperset(_shown(thing))}


def _shown(thing: bpy.types.Object) -> set[bpy.types.ID]:
    blocks = (originals.original(thing.data), *(slots.own(slot.material) for slot in thing.material_slots))
    return {block for block in blocks if block is not None}
