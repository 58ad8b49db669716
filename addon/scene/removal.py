"""Removing many data-blocks that nothing but each other uses.

Removed together, Blender looks for each object through all that stands in collections, and removed one by one it looks
for what else uses it: the time grows with the square. So those that nothing uses go without either. Windows must be
told of each one where there are any; without windows nobody needs telling. And for each object it numbers anew all that
the view layer shows, which grows with the square as well: nothing is shown meanwhile.
"""

from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from itertools import compress
from operator import not_

import bpy

from ..blender import context
from ..core.slices import is_over, whole

_FEW = 100  # objects that are not worth the while


def remove(blocks: Iterable[bpy.types.ID]) -> None:
    """Removes data-blocks; collections among them, too, with no object that is not."""
    whole(removing(blocks))


def removing(blocks: Iterable[bpy.types.ID]) -> Generator[None, None, None]:
    """The same in parts, between which nothing is shown."""
    blocks = list(dict.fromkeys(blocks))  # 5.2 knows some by two names
    rooms, left = _parted(blocks, lambda block: isinstance(block, bpy.types.Collection))
    if rooms:  # of none, too, Blender looks through all that is there
        bpy.data.batch_remove(rooms)
        yield
    things = {block for block in left if isinstance(block, bpy.types.Object)}
    windows = not bpy.app.background
    if windows and (things.intersection(context().view_layer.objects) or any_view_is_local()):
        bpy.data.batch_remove(left)
        return
    with nothing_shown(things) if len(things) > _FEW else nullcontext():
        if things:
            context().view_layer.update()  # or it still holds what was in them
        for kind, room in ((bpy.types.Object, bpy.data.objects), (bpy.types.Mesh, bpy.data.meshes)):
            unused, left = _parted(left, lambda block, kind=kind: isinstance(block, kind) and not block.users)
            for block in unused:
                room.remove(block, do_unlink=False, do_ui_user=windows)
                if is_over():
                    yield
    if left:
        bpy.data.batch_remove(left)


@contextmanager
def nothing_shown(leaving: set[bpy.types.Object]) -> Iterator[None]:
    """Takes all collections out of the view layer for a while; what was hidden, selected or active is so afterwards."""
    layer = context().view_layer
    staying = [thing for thing in layer.objects if thing not in leaving]
    hidden, selected = [each for each in staying if each.hide_get()], [each for each in staying if each.select_get()]
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
        for thing in selected:
            thing.select_set(True)
        for thing in hidden:
            thing.hide_set(True)
        layer.objects.active = active


def any_view_is_local() -> bool:
    """Whether a 3D view shows some objects alone, which would be forgotten."""
    areas = [area for window in context().window_manager.windows for area in window.screen.areas]
    views = [area.spaces.active for area in areas]
    return any(isinstance(view, bpy.types.SpaceView3D) and view.local_view for view in views)


def _within(room: bpy.types.LayerCollection) -> Iterator[bpy.types.LayerCollection]:
    for child in room.children:
        yield child
        yield from _within(child)


def _parted(blocks: list, wanted: Callable[[bpy.types.ID], bool]) -> tuple[list, list]:
    """Those that are wanted, and the others."""
    chosen = [wanted(block) for block in blocks]
    return list(compress(blocks, chosen)), list(compress(blocks, map(not_, chosen)))
