"""Which collections of a scene are builds."""

import bpy

from ..core.errors import BuildProblem
from . import state

_NEARLY_ALL = 0.9


def builds(scene: bpy.types.Scene) -> list[bpy.types.Collection]:
    """Collections an artist can choose from: those with a preset on them, then the rest, most meshes first."""
    meshes = {room: _meshes_within(room) for room in scene.collection.children_recursive}
    meshes[scene.collection] = _meshes(scene.collection)  # what stands in no collection of its own
    held = [room for room, count in meshes.items() if count or state.is_marked(room)]
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


def _meshes_within(room: bpy.types.Collection) -> int:
    return sum(map(_meshes, [room, *room.children_recursive]))


def _meshes(room: bpy.types.Collection) -> int:
    return sum(thing.type == "MESH" for thing in room.objects)
