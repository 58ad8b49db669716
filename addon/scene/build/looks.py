"""What an export said of its bricks' colours, kept on each: an artist may shade a brick otherwise since.

A brick is recoloured where two versions of the export differ, and not where its material does.
"""

import json
import re
from collections.abc import Iterable, Sequence

import bpy

from ... import raw
from ...blender import mesh_of, meshes_of
from ..wear import originals, slots
from .colours import of_material

LOOK = "playworn_look"  # raw property on a brick: name and colour of each material that the export gave it
BEFORE = "playworn_looked"  # on a brick that was recoloured: the look and the mesh it came with
_TAKEN = re.compile(r"\.\d{3,}$")

Look = tuple[tuple[str, tuple[int, int, int] | None], ...]


def keep(things: Iterable[bpy.types.Object], known: dict[bpy.types.Mesh, str] | None = None) -> None:
    """Keeps the looks that objects have now; those of meshes that are `known` are not told again, as others are told
    there."""
    known = {} if known is None else known
    things = list(things)
    for thing, mesh in zip(things, meshes_of(things), strict=True):
        if mesh not in known:
            known[mesh] = json.dumps([told(one) for one in _shown(thing)], ensure_ascii=False)
        thing[LOOK] = known[mesh]


def of(things: Sequence[bpy.types.Object]) -> list[Look]:
    """The look that the export gave each thing; what it shows now where nothing was kept."""
    known: dict[str, Look] = {}
    shown: dict[tuple, Look] = {}
    found = []
    for thing in things:
        kept = thing.get(LOOK)
        if isinstance(kept, str):
            if kept not in known:
                known[kept] = _said(kept)
            found.append(known[kept])
        else:
            materials = _shown(thing)
            found.append(shown.setdefault(materials, tuple(told(one) for one in materials)))
    return found


def _said(kept: str) -> Look:
    """A look as it is kept; none of any material where another hand wrote it."""
    try:
        return tuple((str(name), None if rgb is None else _colour(*rgb)) for name, rgb in raw.said(kept))
    except (ValueError, TypeError):
        return ()


def _colour(red: float, green: float, blue: float) -> tuple[int, int, int]:
    return int(red), int(green), int(blue)


def numbered(old: list[Look], new: list[Look]) -> tuple[list[int], list[int], dict]:
    """Numbers for looks, the same for what is one colour in both versions, and what each of the new version's
    materials is in the old one."""
    there = list(dict.fromkeys(one for look in old for one in look))
    alike = {one: _alike(one, there) for look in new for one in look}
    number: dict[Look, int] = {}
    a = [number.setdefault(look, len(number)) for look in old]
    b = [number.setdefault(tuple(alike[one] or one for one in look), len(number)) for look in new]
    return a, b, alike


def _alike(wanted: tuple, there: list[tuple]):
    """Of some materials the one of this name and colour, else of this colour, else of this name; None for none."""
    name, colour = wanted
    same = [one for one in there if one[1] == colour and colour is not None] if colour else []
    named = [one for one in there if one[0] == name]
    both = [one for one in same if one[0] == name]
    return next(iter([*both, *same, *named]), None)


def _shown(thing: bpy.types.Object) -> tuple:
    mesh = originals.original(mesh_of(thing))
    return tuple(mesh.materials) if mesh is not None and slots.of_mesh(mesh) else ()


def bare(name: str) -> str:
    """A name without the number that Blender puts behind one that is taken."""
    return _TAKEN.sub("", name)


def told(material: bpy.types.Material | None) -> tuple:
    """The name that an export gave a material, and its colour; of one of ours, of that whose place it takes."""
    material = slots.own(material)
    if material is None:
        return "", None
    return bare(material.name), of_material(material)
