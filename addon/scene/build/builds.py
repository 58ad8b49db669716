"""Which collections of a scene are builds."""

import bpy

from ...core.errors import BuildProblem, ShotProblem
from . import state

ASIDE = "playworn_aside"  # on a collection whose bricks are out of their build

_NEARLY_ALL = 0.9


def builds(scene: bpy.types.Scene) -> list[bpy.types.Collection]:
    """Collections an artist can choose from: those with a preset on them, then the rest, most meshes first."""
    meshes = {room: _meshes_within(room) for room in scene.collection.children_recursive}
    meshes[scene.collection] = _meshes(scene.collection)  # what stands in no collection of its own
    held = [room for room, count in meshes.items() if (count or state.is_marked(room)) and ASIDE not in room]
    return sorted(held, key=lambda room: (not state.is_marked(room), -meshes[room]))


def likeliest(scene: bpy.types.Scene) -> bpy.types.Collection:
    """The build of a file that names none: the one with a preset on it, or the collection that holds most meshes.

    Of collections within each other it is the innermost one that still holds nearly all of them.
    """
    found = builds(scene)
    if not found:
        raise BuildProblem("the scene holds no mesh: open a file with a build in it")
    room = found[0]
    while not state.is_marked(room) and room != scene.collection:
        inner = [child for child in room.children if _meshes_within(child) >= _NEARLY_ALL * _meshes_within(room)]
        if not inner:
            break
        room = inner[0]
    return room


def named(name: str) -> bpy.types.Collection:
    """The collection of that name in the open file; BuildProblem with those there are where it is none of them."""
    rooms = {room.name: room for scene in bpy.data.scenes for room in builds(scene)}
    if name not in rooms:
        known = ", ".join(f'"{room}"' for room in rooms) or "none"
        raise BuildProblem(f'there is no build called "{name}": choose one of {known}')
    return rooms[name]


def all_builds(scene: bpy.types.Scene) -> list[bpy.types.Collection]:
    """The builds of a scene, none within another: those with a preset on them, and beside these every collection in
    which meshes stand, the innermost one that holds nearly all of them."""
    found = [room for child in scene.collection.children for room in _builds_within(child)]
    alone = state.is_marked(scene.collection) or (not found and _meshes(scene.collection))
    return [scene.collection] if alone else list(dict.fromkeys(found))


def standing_in(scene: bpy.types.Scene, things: list[bpy.types.Object]) -> list[bpy.types.Collection]:
    """The builds of a scene in which any of the objects stands."""
    wanted = set(things)
    return [room for room in all_builds(scene) if any(not wanted.isdisjoint(each.objects) for each in _rooms(room))]


def scenes_showing(collection: bpy.types.Collection) -> list[bpy.types.Scene]:
    """Every scene of this file in which a collection stands, be it as an instance; the open one first."""
    return sorted(
        (scene for scene in bpy.data.scenes if not scene.library and _shows(scene, collection)),
        key=lambda scene: scene != bpy.context.scene,
    )


def check_shown(collection: bpy.types.Collection, scene: bpy.types.Scene) -> None:
    """ShotProblem where a scene that is to be rendered does not show a build."""
    if scene not in scenes_showing(collection):
        raise ShotProblem(f'the build "{collection.name}" is not in the scene "{scene.name}", which is to be rendered')


def _shows(scene: bpy.types.Scene, collection: bpy.types.Collection) -> bool:
    if collection in _rooms(scene.collection):
        return True
    instanced = {thing.instance_collection for thing in scene.objects if thing.instance_type == "COLLECTION"}
    return any(room and collection in _rooms(room) for room in instanced)


def _builds_within(room: bpy.types.Collection) -> list[bpy.types.Collection]:
    if ASIDE in room:
        return []
    if state.is_marked(room):
        return [room]
    count = _meshes_within(room)
    if any(state.is_marked(inner) for inner in room.children_recursive):
        return [found for child in room.children for found in _builds_within(child)]
    for child in room.children:
        if count and _meshes_within(child) >= _NEARLY_ALL * count:
            return _builds_within(child)
    return [room] if count else []


def _rooms(room: bpy.types.Collection) -> list[bpy.types.Collection]:
    return [room, *room.children_recursive]


def _meshes_within(room: bpy.types.Collection) -> int:
    return sum(map(_meshes, [room, *room.children_recursive]))


def _meshes(room: bpy.types.Collection) -> int:
    return sum(thing.type == "MESH" for thing in room.objects)
