"""Bricks that a new version no longer has: they wait hidden, with all that is on them, in case they come back."""

from collections.abc import Generator, Iterable, Sequence

import bpy

from ... import raw
from ...core.slices import is_over
from ..wear import originals, slots
from . import builds

ROOM = "playworn_removed"  # on a build: the collection where its removed bricks wait
STOOD = "playworn_stood"  # on one of these: the collections where it stood
MARK = builds.ASIDE


def room_of(build: bpy.types.Collection) -> bpy.types.Collection | None:
    """The collection in which removed bricks of a build wait, None where none ever did."""
    room = build.get(ROOM)
    return room if isinstance(room, bpy.types.Collection) else None


def waiting(build: bpy.types.Collection) -> list[bpy.types.Object]:
    room = room_of(build)
    return list(room.objects) if room else []


def putting(
    build: bpy.types.Collection, things: Sequence[bpy.types.Object], untouched: set[bpy.types.Object]
) -> Generator[None, None, list[bpy.types.Object]]:
    """Takes bricks out of a build, in parts; returns what nobody will want back: of those that nobody touched the ones
    that show nothing which others do not show as well."""
    gone, stood = _others_show(untouched.intersection(things)), dict[bpy.types.Object, list[bpy.types.Collection]]()
    for room in holding(things):
        for thing in set(things).intersection(room.objects):
            room.objects.unlink(thing)
            stood.setdefault(thing, []).append(room)
            if is_over():
                yield
    for thing in things:
        if thing not in gone:
            _room(build).objects.link(thing)
            if stood[thing] != [build]:  # a scene's own collection cannot be remembered
                thing[STOOD] = {str(n): room for n, room in enumerate(stood[thing]) if not room.is_embedded_data}
        if is_over():
            yield
    return [thing for thing in things if thing in gone]


def holding(things: Iterable[bpy.types.Object]) -> list[bpy.types.Collection]:
    """The collections of the file in which any of some things stand: each asked for its own would look through all."""
    wanted = set(things)
    rooms = (*(scene.collection for scene in bpy.data.scenes), *bpy.data.collections)
    return [room for room in rooms if not wanted.isdisjoint(room.objects)]


def bringing_back(build: bpy.types.Collection, things: Iterable[bpy.types.Object]) -> Generator[None, None, None]:
    """Puts bricks that waited back into their build, where they stood in it, and into an artist's collections, in
    parts."""
    room, inside = room_of(build), {build, *build.children_recursive}
    for thing in things:
        room.objects.unlink(thing)
        stood = [each for each in _stood(thing) if thing.name not in each.objects]
        for each in stood if inside.intersection(stood) else (build, *stood):
            each.objects.link(thing)
        if is_over():
            yield


def _stood(thing: bpy.types.Object) -> list[bpy.types.Collection]:
    """Where a brick stood before it waited, as far as it was not in its build alone, and forgets it."""
    told = raw.plain(thing.get(STOOD))
    if told is not None:
        del thing[STOOD]
    rooms = told.values() if isinstance(told, dict) else ()
    return [room for room in rooms if isinstance(room, bpy.types.Collection) and room.is_editable]


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
