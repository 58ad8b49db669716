"""Removing many data-blocks that nothing but each other uses.

Blender tells its windows of each one it removes, and looks for it among all they have not been told of yet: after an
import these are several for each object, so that the time grows with the square. Without windows nobody needs telling.
And for each object it numbers anew all that the view layer shows, which grows with the square as well: without windows
nothing needs to be shown meanwhile.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from itertools import compress
from operator import not_

import bpy

_FEW = 100  # objects that are not worth the while


def remove(blocks: Iterable[bpy.types.ID]) -> None:
    """Removes data-blocks; collections among them, too, with no object that is not."""
    blocks = list(dict.fromkeys(blocks))  # 5.2 knows some by two names
    if not bpy.app.background:
        bpy.data.batch_remove(blocks)
        return
    rooms, left = _parted(blocks, lambda block: isinstance(block, bpy.types.Collection))
    bpy.data.batch_remove(rooms)
    things = {block for block in left if isinstance(block, bpy.types.Object)}
    with _nothing_shown(things) if len(things) > _FEW else nullcontext():
        if things:
            bpy.context.view_layer.update()  # or it still holds what was in them
        for kind, room in ((bpy.types.Object, bpy.data.objects), (bpy.types.Mesh, bpy.data.meshes)):
            unused, left = _parted(left, lambda block, kind=kind: isinstance(block, kind) and not block.users)
            for block in unused:
                room.remove(block, do_unlink=False, do_ui_user=False)
    bpy.data.batch_remove(left)


@contextmanager
def _nothing_shown(leaving: set[bpy.types.Object]) -> Iterator[None]:
    """Takes all collections out of the view layer for a while; what was hidden or active is so afterwards."""
    layer = bpy.context.view_layer
    hidden = [thing for thing in layer.objects if thing not in leaving and thing.hide_get()]
    active = None if layer.objects.active in leaving else layer.objects.active
    rooms = [(room, room.exclude) for room in _within(layer.layer_collection)]
    for room, _ in rooms:
        room.exclude = True
    try:
        yield
    finally:
        for room, excluded in rooms:  # from the outside in: it acts on all within
            room.exclude = excluded
        layer.update()
        for thing in hidden:
            thing.hide_set(True)
        layer.objects.active = active


def _within(room: bpy.types.LayerCollection) -> Iterator[bpy.types.LayerCollection]:
    for child in room.children:
        yield child
        yield from _within(child)


def _parted(blocks: list, wanted: Callable[[bpy.types.ID], bool]) -> tuple[list, list]:
    """Those that are wanted, and the others."""
    chosen = [wanted(block) for block in blocks]
    return list(compress(blocks, chosen)), list(compress(blocks, map(not_, chosen)))
