"""What the materials of a binary FBX state, in their own properties and not in the file's template.

The template has a ReflectionFactor of 1: importers that follow it make metal of what says nothing.
Format: the node records as Blender Foundation's "FBX binary file format specification" (2013) describes them.
"""

import struct
from collections.abc import Iterator
from typing import NamedTuple

from .stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Stated

MAGIC = b"Kaydara FBX Binary  \x00\x1a\x00"
HEAD = len(MAGIC) + 4  # the version behind it
_WIDE = 7500  # from this version on offsets have eight bytes
_HEAD, _HEAD_WIDE = struct.Struct("<III"), struct.Struct("<QQQ")  # of a record: its end, its values and their bytes
ID = 9  # bytes that an id takes; before version 7000 objects had none
_SAYS = {
    "shininess": ROUGHNESS,
    "shininessexponent": ROUGHNESS,
    "roughness": ROUGHNESS,
    "glossiness": ROUGHNESS,
    "reflectionfactor": METALLIC,
    "metalness": METALLIC,
    "metallic": METALLIC,
    "ior": IOR,
    "trans_ior": IOR,
    "refractionindex": IOR,
    "transparencyfactor": TRANSMISSION,
    "transparency": TRANSMISSION,
    "opacity": TRANSMISSION,
    "specularfactor": SPECULAR,
    "specularcolor": SPECULAR,
}


class Record(NamedTuple):
    name: bytes
    values: int  # where its values begin
    inner: int  # where they end and what is in it begins
    end: int


def stated(data: bytes) -> Stated:
    """What each material states, by its name; ValueError where the records lead nowhere."""
    if not data.startswith(MAGIC):
        raise ValueError("it is no binary FBX")
    try:
        return _stated(data, is_wide(data))
    except (struct.error, IndexError) as error:
        raise ValueError("its records lead beyond its end") from error


def _stated(data: bytes, wide: bool) -> Stated:
    found: dict[str, frozenset[str]] = {}
    for objects in _named(data, b"Objects", HEAD, len(data), wide):
        for material in _named(data, b"Material", objects.inner, objects.end, wide):
            named = material.values if data[material.values] == ord("S") else material.values + ID
            name = text(data, named).partition("\x00")[0]
            says = frozenset(field for field in map(_said, _properties(data, material, wide)) if field)
            found[name] = found.get(name, frozenset()) | says
    return found


def _properties(data: bytes, material: Record, wide: bool) -> Iterator[str]:
    for kind, one in ((b"Properties70", b"P"), (b"Properties60", b"Property")):
        for block in _named(data, kind, material.inner, material.end, wide):
            for each in _named(data, one, block.inner, block.end, wide):
                yield text(data, each.values)


def _said(name: str) -> str:
    """What a property is about; renderers put their own name before it, as in "Renderer|Parameters|roughness"."""
    return _SAYS.get(name.rpartition("|")[2].lower(), "")


def _named(data: bytes, name: bytes, at: int, end: int, wide: bool) -> Iterator[Record]:
    return (each for each in records(data, at, end, wide) if each.name == name)


def is_wide(data: bytes) -> bool:
    """Whether its offsets have eight bytes."""
    return _number(data, "<I", len(MAGIC)) >= _WIDE


def records(data: bytes, at: int, end: int, wide: bool) -> Iterator[Record]:
    """The records from a place on; what is in them is not read. ValueError or struct.error where they lead nowhere."""
    layout = _HEAD_WIDE if wide else _HEAD
    head, told = layout.size + 1, layout.unpack_from
    while at + head <= end:
        stop, _, size = told(data, at)
        if not stop:  # an empty record ends a list
            return
        begin = at + head + data[at + head - 1]
        if not begin + size <= stop <= end:
            raise ValueError("its records lead beyond its end")
        yield Record(data[at + head : begin], begin, begin + size, stop)
        at = stop


def text(data: bytes, at: int) -> str:
    """The text that stands at a place; ValueError where none does."""
    if data[at : at + 1] != b"S":
        raise ValueError("a name in it is no text")
    return data[at + 5 : at + 5 + _number(data, "<I", at + 1)].decode("utf-8", "replace")


def _number(data: bytes, layout: str, at: int) -> int:
    return struct.unpack_from(layout, data, at)[0]
