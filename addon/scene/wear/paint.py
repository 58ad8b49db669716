"""What is painted on a mesh for shaders to read, kept where its faces are put in order: colours, attributes, weights of
groups."""

from collections.abc import Iterator, Sequence
from typing import cast

import bmesh
import bpy
import numpy as np

from ..exports.forms import MADE_BY_THE_MESH, VALUES, WIDTHS, got, read

FACE = "playworn_paint"  # of a face: which of the values that cover whole faces it has; less than 0 where they vary
_DOMAINS = {"POINT", "CORNER", "FACE"}
_KINDS = ("float", "float_color", "color", "float_vector", "int", "bool")  # of layers whose values a point can have


def told(mesh: bpy.types.Mesh, groups: Sequence[str]) -> list[np.ndarray]:
    """All that is painted on a mesh and what it is called; nothing for nothing. groups: those that its objects name."""
    layers = {layer.name: read(layer) for layer in _layers(mesh)}
    points = mesh.vertices if groups else ()
    weights = [(point.index, each.group, each.weight) for point in points for each in point.groups]
    names = [*layers, *(groups if weights else ())]
    found = [*layers.values(), *([np.array(weights)] if weights else [])]
    return [np.frombuffer("\n".join(names).encode(), np.uint8), *found] if found else []


def number_faces(shape: bmesh.types.BMesh, mesh: bpy.types.Mesh) -> None:
    """Tells on each face of a copy of a mesh by what it is covered; on none where nothing is painted."""
    corners, counts = got(mesh.loops, "vertex_index", 1, np.int32), got(mesh.polygons, "loop_total", 1, np.int32)
    face = np.repeat(np.arange(len(counts)), counts)
    where = {"POINT": corners, "CORNER": slice(None), "FACE": face}
    found = [
        read(layer).reshape(-1, WIDTHS.get(layer.data_type, 1))[where[layer.domain]].astype(np.float64)
        for layer in _layers(mesh)
    ]
    found += [each[corners] for each in _weights_of(shape)]
    if not found or not len(counts):
        return
    cover = np.concatenate(found, axis=1)
    start = np.cumsum(counts) - counts
    is_even = (np.maximum.reduceat(cover, start) == np.minimum.reduceat(cover, start)).all(axis=1)
    number = np.unique(cover[start], axis=0, return_inverse=True)[1].reshape(-1)
    number[~is_even] = -1 - np.flatnonzero(~is_even)
    layer = shape.faces.layers.int.new(FACE)
    for one, own in zip(shape.faces, number.tolist(), strict=True):
        one[layer] = own


def is_on(shape: bmesh.types.BMesh) -> bool:
    """Whether anything is painted on a copy whose faces were numbered."""
    return shape.faces.layers.int.get(FACE) is not None


def loose(shape: bmesh.types.BMesh) -> tuple[list[bmesh.types.BMVert], list[bmesh.types.BMEdge]]:
    """The points and edges that can go without anything painted changing."""
    layer = shape.faces.layers.int.get(FACE)
    if layer is None:
        return list(shape.verts), list(shape.edges)
    points = [point for point in shape.verts if all(face[layer] >= 0 for face in point.link_faces)]
    edges = [edge for edge in shape.edges if len({face[layer] for face in edge.link_faces}) == 1]
    return points, edges


def part(shape: bmesh.types.BMesh, joined: dict[bmesh.types.BMVert, bmesh.types.BMVert]) -> None:
    """Readies what is painted on points for some of them being joined to others: where their values differ, attributes
    go to the corners, and each takes the greater weights."""
    for kind in _KINDS:
        layers = getattr(shape.verts.layers, kind)
        for name in layers.keys():  # noqa: SIM118  no dict
            layer = layers[name]
            if any(_plain(one[layer]) != _plain(other[layer]) for one, other in joined.items()):
                own = getattr(shape.loops.layers, kind).new(name)
                layer = layers[name]  # a new layer moves what the others are known by
                for face in shape.faces:
                    for corner in face.loops:
                        corner[own] = corner.vert[layer]
                layers.remove(layer)
    deform = shape.verts.layers.deform.active
    for one, other in joined.items() if deform else ():
        from_one, to_other = cast(dict[int, float], one[deform]), cast(dict[int, float], other[deform])
        for group, weight in from_one.items():
            to_other[group] = max(weight, to_other.get(group, 0.0))


def _layers(mesh: bpy.types.Mesh) -> Iterator[bpy.types.Attribute]:
    """The attributes of a mesh that can be painted; where it lies on pictures is none."""
    maps = {layer.name for layer in mesh.uv_layers}
    for layer in mesh.attributes:
        is_made = layer.is_internal or layer.name in MADE_BY_THE_MESH or layer.name in maps
        if not is_made and layer.domain in _DOMAINS and layer.data_type in VALUES:
            yield layer


def _weights_of(shape: bmesh.types.BMesh) -> list[np.ndarray]:
    """Weights (V, groups) of a copy's points."""
    deform = shape.verts.layers.deform.active
    if deform is None:
        return []
    weights = [dict(point[deform].items()) for point in shape.verts]
    groups = sorted(set().union(*weights))
    return [np.array([[own.get(group, 0.0) for group in groups] for own in weights])] if groups else []


def _plain(value) -> tuple[float, ...]:
    return tuple(value) if hasattr(value, "__len__") else (value,)
