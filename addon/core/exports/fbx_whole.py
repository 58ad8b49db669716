"""Whether a binary FBX is nothing but meshes that stand somewhere, whole to its last list.

Readers die of what is left open: a list that ends early, a number that leads nowhere, a skeleton without bones.
Format: the node records as Blender Foundation's "FBX binary file format specification" (2013) describes them.
"""

import struct
import zlib

import numpy as np

from . import fbx

_PLAIN = {b"Model", b"Geometry", b"Material", b"Texture", b"Video"}
_LISTS = {"f": "<f4", "d": "<f8", "i": "<i4", "l": "<i8"}
_WIDTHS = {b"Normals": 3, b"Binormals": 3, b"Tangents": 3, b"Colors": 4, b"UV": 2}  # of what a number leads to
_NAMED = {b"LayerElementUV", b"LayerElementColor"}
_NUMBERS = {b"Normals": b"NormalsIndex", b"Colors": b"ColorIndex", b"UV": b"UVIndex"}
_MOST = 100  # bytes out of one: no list of a build packs better
_MOST_FAR = 1e12
_LONGEST = 60  # bytes of a layer's name: 4.5 dies of longer ones
_BLENDERS = {
    "position",
    "material_index",
    "sharp_face",
    "sharp_edge",
    "custom_normal",
    "normal",
}  # names of other lists
_BLENDERS |= {
    "crease_edge",
    "crease_vert",
    "bevel_weight_edge",
    "bevel_weight_vert",
    "freestyle_edge",
    "freestyle_face",
}


def is_whole(data: bytes) -> bool:
    """Whether nothing is open in it; all other files are not said to be bad, but to be looked at by someone else."""
    try:
        return _is_whole(data)
    except (struct.error, IndexError, KeyError, ValueError, zlib.error):
        return False


def _is_whole(data):
    if not data.startswith(fbx.MAGIC):
        return False
    wide = fbx.is_wide(data)
    for top in fbx.records(data, fbx.HEAD, len(data), wide):
        for each in fbx.records(data, top.inner, top.end, wide) if top.name == b"Objects" else ():
            if each.name not in _PLAIN and not _is_empty(data, each):
                return False
            if each.name == b"Geometry" and not _is_mesh(data, each, wide):
                return False
    return True


def _is_empty(data, record):
    """Whether it tells of a node that it is nothing: no lamp, no bone."""
    named = record.values + fbx.ID
    kind = named + 5 + len(fbx.text(data, named).encode())
    return record.name == b"NodeAttribute" and fbx.text(data, kind) == "Null"


def _is_mesh(data, geometry, wide):
    inner = list(fbx.records(data, geometry.inner, geometry.end, wide))
    lists = {each.name: each for each in inner}
    layers = [each for each in inner if each.name.startswith(b"LayerElement")]
    points = _list(data, lists[b"Vertices"])
    corners = _list(data, lists[b"PolygonVertexIndex"])
    ends = corners < 0
    corners = np.where(ends, ~corners, corners)
    faces = np.diff(np.flatnonzero(ends), prepend=-1)
    return (
        len(points) % 3 == 0
        and bool((np.abs(points) < _MOST_FAR).all())
        and len(corners) > 0
        and bool(ends[-1])
        and faces.min() >= 3
        and _lead(corners, len(points) // 3)
        and (b"Edges" not in lists or _lead(_list(data, lists[b"Edges"]), len(corners)))
        and all(_fits(data, layer, wide) for layer in layers)
        and _are_told_apart([_name(data, layer, wide) for layer in layers if layer.name in _NAMED])
    )


def _name(data, layer, wide):
    names = (each for each in fbx.records(data, layer.inner, layer.end, wide) if each.name == b"Name")
    return next((fbx.text(data, each.values) for each in names), "")


def _are_told_apart(names):
    return len(set(names)) == len(names) and not any(
        len(name.encode()) > _LONGEST or name.startswith(".") or name in _BLENDERS for name in names
    )


def _fits(data, layer, wide):
    """Whether a layer's lists are whole and its numbers lead to what it has."""
    lists = {each.name: each for each in fbx.records(data, layer.inner, layer.end, wide)}
    for name, width in _WIDTHS.items():
        if name in lists:
            values, by = _list(data, lists[name]), _NUMBERS.get(name)
            if len(values) % width:
                return False
            if by in lists and not _lead(_list(data, lists[by]), len(values) // width):
                return False
    return b"Materials" not in lists or bool((_list(data, lists[b"Materials"]) >= 0).all())


def _lead(numbers, count):
    return not len(numbers) or bool(numbers.min() >= 0 and numbers.max() < count)


def _list(data, record):
    """The one list of numbers that a record holds."""
    many, packed, size = struct.unpack_from("<III", data, record.values + 1)
    item = np.dtype(_LISTS[chr(data[record.values])])
    begin, length = record.values + 13, many * item.itemsize
    if begin + size > record.inner or length > _MOST * len(data):
        raise ValueError("a list leads beyond its record")
    raw = (
        zlib.decompressobj().decompress(data[begin : begin + size], length + 1)
        if packed
        else data[begin : begin + size]
    )
    if len(raw) != length:
        raise ValueError("a list ends elsewhere than it says")
    return np.frombuffer(raw, item)
