"""Materials of FBX models that Blender's reader hangs a mesh under.

Where a model's mesh has an offset of its own, or a pivot to scale by, the reader makes the model an empty and puts the
mesh on an object below it. The file's materials are the model's, so that all that share a mesh would show those of the
first.
"""

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TypeVar

import bpy

from ...core.exports import fbx_models
from ...core.exports.fbx_models import Model

Block = TypeVar("Block", bound=bpy.types.ID)

_LONGEST = 48  # bytes of a name that are left of it whatever Blender cuts to tell it from others
_COPY = re.compile(r"\.(\d{3,})$")


def put_back(path: Path, objects: list[bpy.types.Object], materials: list[bpy.types.Material]) -> None:
    """Give each of the objects that came what its model in the file shows."""
    below = {obj.parent: obj for obj in objects if obj.parent is not None and _hangs(obj)}
    if not below:
        return
    named = _by_name(materials)
    for holder, model in _pairs(list(below), fbx_models.models(path.read_bytes())):
        if _plain(below[holder].data) == _told_apart(model.mesh)[0]:
            _show(below[holder], [named.get(_told_apart(each)[0], []) for each in model.materials])


def _pairs(holders: list[bpy.types.Object], models: list[Model]) -> Iterator[tuple[bpy.types.Object, Model]]:
    """Each holder with its model: by its name, or where names are taken by the order that they came in."""
    own = {_cut(model.name): model for model in models}
    called = {_cut(holder.name): holder for holder in holders}
    if len(own) == len(models) and len(called) == len(holders) and called.keys() <= own.keys():
        yield from ((holder, own[name]) for name, holder in called.items())
        return
    same: dict[str, list[Model]] = defaultdict(list)
    for model in models:
        same[_told_apart(model.name)[0]].append(model)
    for name, some in _by_name(holders).items():
        if len(some) == len(same[name]):  # else nobody can tell which is which
            yield from zip(some, same[name], strict=True)


def _hangs(obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and obj.parent is not None and obj.parent.type == "EMPTY"


def _show(obj: bpy.types.Object, wanted: list[list[bpy.types.Material]]) -> None:
    if len(wanted) != len(obj.material_slots) or any(len(each) != 1 for each in wanted):
        return
    for slot, (material,) in zip(obj.material_slots, wanted, strict=True):
        if slot.material != material:
            slot.link, slot.material = "OBJECT", material


def _by_name(blocks: Sequence[Block]) -> dict[str, list[Block]]:
    """Blocks under the names that they were made by, in the order that they were made in."""
    found: dict[str, list[Block]] = defaultdict(list)
    for block in sorted(blocks, key=lambda block: _told_apart(block.name)):
        found[_plain(block)].append(block)
    return found


def _plain(block: bpy.types.ID | None) -> str:
    return _told_apart(block.name)[0] if block else ""


def _told_apart(name: str) -> tuple[str, int]:
    """A name and the number that Blender gives it where it is taken."""
    number = _COPY.search(name)
    return (_cut(name[: number.start()]), int(number[1])) if number else (_cut(name), 0)


def _cut(name: str) -> str:
    return name.encode()[:_LONGEST].decode("utf-8", "ignore")
