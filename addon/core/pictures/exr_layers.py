"""One layer of an OpenEXR picture as a picture of its own, by the file layout that OpenEXR publishes.

Blender's image textures take no picture of several parts or of named layers. Nothing is unpacked here: channels get
other names, in the same order since pixels follow it, and the blocks of the other parts are left out.
"""

import struct
from collections.abc import Callable
from typing import NamedTuple

from . import exr

_LONG_NAMES = 0x400  # of the version's flags
_BY_NAME = (8, 9)  # kinds of compression that pack channels by their names
_COLOURS = (b"R", b"G", b"B", b"Y")
_CHANNELS, _COUNT, _TYPE, _NAME = b"channels", b"chunkCount", b"type", b"name"
_AS_IT_IS = (b"R", b"G", b"B", b"A", b"Y", b"RY", b"BY")


class Inseparable(ValueError):
    """Layers that are packed so that none can be taken out."""


class Layer(NamedTuple):
    """A layer of a part, "" where the channels have plain names."""

    name: str
    part: int
    prefix: bytes


def layers(picture: bytes) -> tuple[Layer, ...]:
    """What can be seen in a picture, in its order: none where there are deep pixels alone. ValueError, struct.error or
    IndexError where it ends in its header."""
    parts, _ = exr.headers(picture)
    found = {}
    for number, said in enumerate(parts):
        if exr.value(said, _TYPE).startswith(b"deep"):
            continue
        of_part = [exr.value(said, _NAME)] if len(parts) > 1 else []
        for channel in _channels(said):
            prefix = _prefix(channel)
            name = b".".join(filter(None, [*of_part, prefix])).decode("utf-8", "replace")
            found.setdefault((number, prefix), Layer(name, number, prefix))
    return tuple(found.values())


def is_plain(picture: bytes) -> bool:
    """Whether Blender's image textures take the picture as it is."""
    parts, _ = exr.headers(picture)
    names = list(_channels(parts[0]))
    return len(parts) == 1 and not any(b"." in each for each in names) and any(each in _COLOURS for each in names)


def plain(picture: bytes, layer: Layer) -> bytes:
    """A picture of that layer alone, or with further channels under names that nothing asks for.

    Raises Inseparable where it cannot be taken out, ValueError, struct.error or IndexError where it is cut.
    """
    parts, at = exr.headers(picture)
    said = parts[layer.part]
    channels = _channels(said)
    renamed = _renamed(list(channels), layer.prefix)
    if exr.value(said, b"compression")[0] in _BY_NAME and len(set(map(_prefix, channels))) > 1:
        raise Inseparable("its layers are packed by their names")
    body = b"".join(renamed[name] + b"\0" + about for name, about in channels.items()) + b"\0"
    kept = {name: each for name, each in said.items() if name != _COUNT} | {_CHANNELS: (b"chlist", body)}
    head = b"".join(
        name + b"\0" + kind + b"\0" + struct.pack("<I", len(value)) + value for name, (kind, value) in kept.items()
    )
    flags = exr.flags(picture)
    is_tiled = bool(flags & exr.TILED) or exr.value(said, _TYPE) == b"tiledimage"
    flags = 2 | (exr.TILED if is_tiled else 0) | (flags & _LONG_NAMES)
    blocks = _blocks(picture, parts, at, layer.part, is_tiled)
    first = 8 + len(head) + 1 + 8 * len(blocks)
    places, end = [], first
    for block in blocks:
        places.append(end)
        end += len(block)
    table = struct.pack(f"<{len(places)}Q", *places)
    return picture[:4] + struct.pack("<I", flags) + head + b"\0" + table + b"".join(blocks)


def fitting(found: tuple[Layer, ...], fits: Callable[[str], bool]) -> Layer:
    """The layer that is looked for: one whose name fits, else a plain one, else the first."""
    named = [each for each in found if fits(each.name)]
    return (named + [each for each in found if not each.prefix] + list(found))[0]


def _channels(said: exr.Header) -> dict[bytes, bytes]:
    """What is said of each channel by its name, in their order."""
    rest, found = exr.value(said, _CHANNELS), {}
    while rest and rest[0]:
        name, _, rest = rest.partition(b"\0")
        found[name], rest = rest[:16], rest[16:]
    return found


def _prefix(channel: bytes) -> bytes:
    return channel.rpartition(b".")[0]


def _renamed(names: list[bytes], prefix: bytes) -> dict[bytes, bytes]:
    """Plain names for the channels of a layer, and for the others such as come between these in the alphabet."""
    own = [name for name in names if _prefix(name) == prefix]
    plain = {name: name.rpartition(b".")[2] for name in own if name.rpartition(b".")[2] in _AS_IT_IS}
    if not any(each in _COLOURS for each in plain.values()):
        plain = {own[0]: b"Y"}
    found, before = {}, b"!"
    for number, name in enumerate(names):
        before = plain.get(name, before)
        found[name] = plain.get(name, before + b"~%04d" % number)
    return found


def _blocks(picture: bytes, parts: list[exr.Header], at: int, part: int, is_tiled: bool) -> list[bytes]:
    """The blocks of pixels of a part, without the number of the part."""
    several = 4 if exr.flags(picture) & exr.PARTS else 0
    if several:
        counts = [struct.unpack("<i", exr.value(said, _COUNT))[0] for said in parts]
        places = struct.unpack_from(f"<{counts[part]}Q", picture, at + 8 * sum(counts[:part]))
    else:
        places = exr.places(picture, at)
    found = []
    for place in places:
        size = place + several + (16 if is_tiled else 4)
        end = size + 4 + struct.unpack_from("<I", picture, size)[0]
        if end > len(picture):
            raise ValueError("it is cut")
        found.append(picture[place + several : end])
    return found
