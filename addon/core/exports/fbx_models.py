"""Which mesh and which materials each model of an FBX shows, binary or text, by their names and in the file's order.

Format: the node records as Blender Foundation's "FBX binary file format specification" (2013) describes them; the text
form holds the same records.
"""

import re
import struct
from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from . import fbx

_KINDS = (b"Model", b"Geometry", b"Material")
_OBJECT = re.compile(rb'^\s*(Model|Geometry|Material):\s*(\d+),\s*"([^"]*)"', re.MULTILINE)
_LINK = re.compile(rb'^\s*C:\s*"OO"\s*,\s*(\d+)\s*,\s*(\d+)', re.MULTILINE)


class Model(NamedTuple):
    """A model that shows a mesh; materials in the order of the mesh's own numbers for them."""

    name: str
    mesh: str
    materials: tuple[str, ...]


def models(data: bytes) -> list[Model]:
    """The models that show a mesh. None of a file before version 7000, which gives objects no numbers, and of one that
    is torn."""
    try:
        things, links = _binary(data) if data.startswith(fbx.MAGIC) else _text(data)
    except (struct.error, IndexError, ValueError):
        return []
    held: dict[int, list[tuple[bytes, str]]] = defaultdict(list)
    for child, parent in links:
        if child in things:
            held[parent].append(things[child])
    found = []
    for number, (kind, name) in things.items():
        meshes = [own for each, own in held[number] if each == b"Geometry"]
        if kind == b"Model" and meshes:
            materials = tuple(own for each, own in held[number] if each == b"Material")
            found.append(Model(name, meshes[0], materials))
    return found


def _text(data):
    rows = ((kind, int(number), name.decode("utf-8", "replace")) for kind, number, name in _OBJECT.findall(data))
    links = [(int(child), int(parent)) for child, parent in _LINK.findall(data)]
    return {number: (kind, name.removeprefix(f"{kind.decode()}::")) for kind, number, name in rows}, links


def _binary(data):
    wide = fbx.is_wide(data)
    things: dict[int, tuple[bytes, str]] = {}
    links: list[tuple[int, int]] = []
    for top in fbx.records(data, fbx.HEAD, len(data), wide):
        if top.name == b"Objects":
            things |= dict(_numbered(data, fbx.records(data, top.inner, top.end, wide)))
        if top.name == b"Connections":
            links += [
                struct.unpack_from("<qxq", data, each.values + 8)  # behind the text "OO"; a letter before each number
                for each in fbx.records(data, top.inner, top.end, wide)
                if each.name == b"C" and fbx.text(data, each.values) == "OO"
            ]
    return things, links


def _numbered(data: bytes, objects: Iterable[fbx.Record]):
    for each in objects:
        if each.name in _KINDS and data[each.values] == ord("L"):
            number = struct.unpack_from("<q", data, each.values + 1)[0]
            yield number, (each.name, fbx.text(data, each.values + fbx.ID).partition("\x00")[0])
