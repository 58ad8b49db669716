"""A collection that the scene does not show while bricks are made of what is in it.

Whenever objects came or went Blender links up all objects anew, which takes as long as reading them: shown once, at the
end, they are linked up once.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import bpy

from ...blender import context


@contextmanager
def keeping(room: bpy.types.Collection) -> Iterator[None]:
    """Takes the room off the scene as soon as an operator has filled it, before Blender looks at what it made."""

    layer = context().view_layer

    def take_off(scene: bpy.types.Scene, *_) -> None:
        made = room.objects
        if is_shown(room) and made and len(layer.objects.selected) == len(made):  # its last deed is to select them
            scene.collection.children.unlink(room)

    handlers = bpy.app.handlers.depsgraph_update_pre
    handlers.append(take_off)
    try:
        yield
    finally:
        handlers.remove(take_off)


def settle(room: bpy.types.Collection, objects: Sequence[bpy.types.Object]) -> None:
    """Lets Blender look at objects after all, unless all are in the room that is off the scene and none stands or looks
    otherwise than its own channels and its parents' say."""
    if not is_shown(room) and not (set(objects) <= set(room.objects) and all(map(_is_plain, objects))):
        back(room)
    context().view_layer.update()


def back(room: bpy.types.Collection) -> None:
    """Shows the room in the scene."""
    if not is_shown(room):
        context().scene.collection.children.link(room)


def is_shown(room: bpy.types.Collection) -> bool:
    return room in context().scene.collection.children.values()


def _is_plain(obj: bpy.types.Object) -> bool:
    return (
        obj.parent_type == "OBJECT"
        and obj.instance_type == "NONE"
        and obj.animation_data is None
        and not obj.constraints
        and not obj.modifiers
    )
