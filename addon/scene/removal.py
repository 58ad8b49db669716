"""Removing many data-blocks that nothing but each other uses.

Blender tells its windows of each one it removes, and looks for it among all they have not been told of yet: after an
import these are several for each object, so that the time grows with the square. Without windows nobody needs telling.
"""

from collections.abc import Callable, Iterable
from itertools import compress
from operator import not_

import bpy


def remove(blocks: Iterable[bpy.types.ID]) -> None:
    """Removes data-blocks; collections among them, too, with no object that is not."""
    blocks = list(dict.fromkeys(blocks))  # 5.2 knows some by two names
    if not bpy.app.background:
        bpy.data.batch_remove(blocks)
        return
    rooms, left = _parted(blocks, lambda block: isinstance(block, bpy.types.Collection))
    bpy.data.batch_remove(rooms)
    if any(isinstance(block, bpy.types.Object) for block in left):
        bpy.context.view_layer.update()  # or it still holds what was in them
    for kind, room in ((bpy.types.Object, bpy.data.objects), (bpy.types.Mesh, bpy.data.meshes)):
        unused, left = _parted(left, lambda block, kind=kind: isinstance(block, kind) and not block.users)
        for block in unused:
            room.remove(block, do_unlink=False, do_ui_user=False)
    bpy.data.batch_remove(left)


def _parted(blocks: list, wanted: Callable[[bpy.types.ID], bool]) -> tuple[list, list]:
    """Those that are wanted, and the others."""
    chosen = [wanted(block) for block in blocks]
    return list(compress(blocks, chosen)), list(compress(blocks, map(not_, chosen)))
