"""Work on the open file that is done whole or leaves nothing behind."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import bpy

from ..blender import context
from ..transaction import Back, keep, transaction
from . import removal

Block = TypeVar("Block", bound=bpy.types.ID)


class Made:
    """What came into the file since the attempt began."""

    def __init__(self) -> None:
        self._before = {name: {block.session_uid for block in blocks} for name, blocks in _all_blocks()}

    def blocks(self) -> list[bpy.types.ID]:
        return list(
            dict.fromkeys(
                block
                for name, blocks in _all_blocks()
                for block in blocks
                if block.session_uid not in self._before[name]
            )
        )  # Blender 5.2 lists some of them twice

    def objects(self) -> list[bpy.types.Object]:
        return self._of("objects", bpy.data.objects)

    def meshes(self) -> list[bpy.types.Mesh]:
        return self._of("meshes", bpy.data.meshes)

    def materials(self) -> list[bpy.types.Material]:
        return self._of("materials", bpy.data.materials)

    def _of(self, name: str, blocks: Iterable[Block]) -> list[Block]:
        before = self._before[name]
        return [block for block in blocks if block.session_uid not in before]


@contextmanager
def attempt() -> Iterator[Made]:
    """A transaction in which data-blocks are made: when the body raises, all of them are removed and the selection is
    put back, last of all."""
    with transaction():
        made = Made()
        keep(lambda: _before(made))
        yield made


def _before(made: Made) -> Back:
    layer = context().view_layer
    layer.update()  # or it still lists what was removed just before
    selected, active = [obj for obj in layer.objects if obj.select_get()], layer.objects.active

    def back() -> None:
        removal.remove(made.blocks())
        layer.update()
        for obj in layer.objects:
            obj.select_set(obj in selected)
        layer.objects.active = active

    return back


def _all_blocks():
    for prop in bpy.data.bl_rna.properties:
        if prop.type == "COLLECTION":
            yield prop.identifier, getattr(bpy.data, prop.identifier)
