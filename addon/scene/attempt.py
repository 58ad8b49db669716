"""Work on the open file that is done whole or leaves nothing behind."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import bpy

from . import removal


class Made:
    """What came into the file since the attempt began."""

    def __init__(self) -> None:
        self._before = {name: {block.session_uid for block in blocks} for name, blocks in _all_blocks()}

    def blocks(self) -> list[bpy.types.ID]:
        return [
            block for name, blocks in _all_blocks() for block in blocks if block.session_uid not in self._before[name]
        ]

    def spare(self, actions: Iterable[bpy.types.Action]) -> None:
        """Counts actions among what was there before."""
        spared = {each.session_uid for each in actions}
        for known in self._before.values():  # 5.2 knows some by two names
            known |= spared

    def objects(self) -> list[bpy.types.Object]:
        return [obj for obj in bpy.data.objects if obj.session_uid not in self._before["objects"]]


@contextmanager
def attempt() -> Iterator[Made]:
    """All or nothing: when the body raises, every data-block made in it is removed and the selection is put back."""
    made = Made()
    layer = bpy.context.view_layer
    layer.update()  # or it still lists what was removed just before
    selected, active = [obj for obj in layer.objects if obj.select_get()], layer.objects.active
    try:
        yield made
    except BaseException:
        removal.remove(made.blocks())
        layer.update()
        for obj in layer.objects:
            obj.select_set(obj in selected)
        layer.objects.active = active
        raise


def _all_blocks():
    for prop in bpy.data.bl_rna.properties:
        if prop.type == "COLLECTION":
            yield prop.identifier, getattr(bpy.data, prop.identifier)
