"""A geometry as one Blender mesh: its primitives in file order, a material slot for each of their symbols."""

from collections.abc import Iterator
from dataclasses import dataclass

import bpy
import numpy as np
from collada.geometry import Geometry
from mathutils.geometry import tessellate_polygon

from ....blender import values_of
from .. import forms
from .document import Document

MOST_SETS = 8  # of texture coordinates, which is what a Blender mesh holds


@dataclass(frozen=True)
class Shape:
    """Points (V, 3), corner -> point (C,), corners of each face (F,), face -> symbol (F,), and what corners carry:
    normals (C, 3), texture coordinates (C, 2) by their set, colours (C, 4)."""

    points: np.ndarray
    corners: np.ndarray
    counts: np.ndarray
    slots: np.ndarray
    symbols: tuple[str, ...]
    normals: np.ndarray | None
    uvs: dict[str, np.ndarray]
    colours: np.ndarray | None

    @classmethod
    def of(cls, document: Document, geometry: Geometry) -> "Shape":
        """The shape of one of pycollada's geometries; ValueError where its numbers cannot be right."""
        primitives = [found for each in geometry.primitives if len((found := _Primitive.of(document, each)).counts)]
        symbols = tuple(dict.fromkeys(each.symbol for each in primitives))
        slots = [np.full(len(each.counts), symbols.index(each.symbol)) for each in primitives]
        sources = {id(each.points): each.points for each in primitives}
        offsets = dict(zip(sources, np.cumsum([0, *map(len, sources.values())]), strict=False))
        return cls(
            _joined(sources.values(), 3),
            _joined([each.corners + offsets[id(each.points)] for each in primitives]),
            _joined([each.counts for each in primitives]),
            _joined(slots),
            symbols,
            _carried([each.normals for each in primitives], primitives, None),
            {
                name: uvs
                for name in list(dict.fromkeys(name for each in primitives for name in each.uvs))[:MOST_SETS]
                if (uvs := _carried([each.uvs.get(name) for each in primitives], primitives, 0.0)) is not None
            },
            _carried([each.colours for each in primitives], primitives, 1.0),
        )

    def mesh(self, name: str) -> bpy.types.Mesh:
        """A new mesh, an empty slot for each symbol; faces that lie on each other stay, that is where bricks touch."""
        mesh = bpy.data.meshes.new(name)
        for _ in self.symbols:
            mesh.materials.append(None)
        mesh.vertices.add(len(self.points))
        mesh.vertices.foreach_set("co", np.ascontiguousarray(self.points, dtype=np.float32).ravel())
        mesh.loops.add(len(self.corners))
        mesh.loops.foreach_set("vertex_index", self.corners.astype(np.int32))
        mesh.polygons.add(len(self.counts))
        mesh.polygons.foreach_set("loop_start", (np.cumsum(self.counts) - self.counts).astype(np.int32))
        mesh.polygons.foreach_set("material_index", self.slots.astype(np.int32))
        for layer, values in zip(uv_names(self), self.uvs.values(), strict=True):
            uv = mesh.attributes.new(layer, "FLOAT2", "CORNER")
            values_of(uv).foreach_set("vector", np.ascontiguousarray(values, dtype=np.float32).ravel())
        if self.colours is not None:
            colours = mesh.attributes.new("Color", "FLOAT_COLOR", "CORNER")
            values_of(colours).foreach_set("color_srgb", np.ascontiguousarray(self.colours, dtype=np.float32).ravel())
        mesh.update(calc_edges=True)
        if self.normals is None:
            forms.shade(mesh)
        else:
            mesh.shade_smooth()
            mesh.normals_split_custom_set(self.normals)
        return mesh


def uv_names(shape: Shape) -> list[str]:
    """What the layers of the shape's sets of texture coordinates are called, in their order."""
    return ["UVMap" if not number else f"UVMap.{number:03d}" for number in range(len(shape.uvs))]


@dataclass(frozen=True)
class _Primitive:
    symbol: str
    points: np.ndarray
    corners: np.ndarray
    counts: np.ndarray
    normals: np.ndarray | None
    uvs: dict[str, np.ndarray]
    colours: np.ndarray | None

    @classmethod
    def of(cls, document, primitive):
        (place, _, _, _, vertices), *_ = primitive.sources["VERTEX"]
        points = _numbers(vertices, 3)
        rows, counts = _faces(document, primitive, points, place)
        rows, counts = _sound(rows, counts, points, place)
        uvs = {}
        for offset, _, _, name, source in primitive.sources.get("TEXCOORD", ()):
            uvs.setdefault(name or str(len(uvs)), _picked(source, rows[:, offset], 2))
        normals = next((_picked(each[4], rows[:, each[0]], 3) for each in primitive.sources.get("NORMAL", ())), None)
        colours = next((_painted(each[4], rows[:, each[0]]) for each in primitive.sources.get("COLOR", ())), None)
        return cls(primitive.material or "", points, rows[:, place], counts, normals, uvs, colours)


def _faces(document, primitive, points, place):
    """Rows of indices, one a corner, and the corners of each face; polygons with holes are cut into triangles."""
    node, width = primitive.xmlnode, primitive.nindices
    rows = primitive.index.reshape(-1, width)
    counts = getattr(primitive, "vcounts", np.full(len(rows) // 3, 3))
    holed = node.findall(document.tag("ph"))
    announced = int(node.get("count", -1))
    strips = node.tag in (document.tag("tristrips"), document.tag("trifans"))
    if counts.sum() != len(rows) or (not strips and announced not in (-1, len(counts) + len(holed))):
        raise ValueError(f"its geometry holds {len(counts) + len(holed)} faces of {len(rows)} corners, not {announced}")
    for polygon in holed:
        rings = [np.array((ring.text or "").split(), dtype=np.int32).reshape(-1, width) for ring in polygon]
        cut = _cut(rings, points, place)
        rows, counts = np.concatenate([rows, cut]), np.concatenate([counts, np.full(len(cut) // 3, 3)])
    if len(rows) and not 0 <= rows[:, place].min() <= rows[:, place].max() < len(points):
        raise ValueError("its faces have corners that are not in it")
    return rows, counts


def _sound(rows, counts, points, place):
    """Without what Blender cannot hold: a corner that comes twice in its face is cut away, with the face if need be."""
    face = np.repeat(np.arange(len(counts)), counts)
    order = np.lexsort([rows[:, place], face])
    again = (np.diff(face[order]) == 0) & (np.diff(rows[order, place]) == 0)
    bad = np.zeros(len(counts), dtype=bool)
    bad[face[order][1:][again]] = True
    bad |= counts < 3
    if not bad.any():
        return rows, counts
    ends = np.cumsum(counts)
    cut = [_cut([rows[ends[at] - counts[at] : ends[at]]], points, place) for at in np.flatnonzero(bad & (counts > 3))]
    added = np.concatenate([rows[:0], *cut])
    kept = np.concatenate([counts[~bad], np.full(len(added) // 3, 3)])
    return np.concatenate([rows[~bad[face]], added]), kept


def _cut(rings, points, place):
    """A polygon, its holes after it, as rows of triangles that face as it does."""
    rows = np.concatenate(rings)
    if len(rings[0]) < 3 or not 0 <= rows[:, place].min() <= rows[:, place].max() < len(points):
        raise ValueError("its polygons with holes have corners that are not in it")
    corners = points[rows[:, place]]
    triangles = np.array(tessellate_polygon([points[ring[:, place]].tolist() for ring in rings]), dtype=int)
    triangles = triangles.reshape(-1, 3)
    outer = corners[: len(rings[0])]
    facing = np.cross(outer, np.roll(outer, -1, axis=0)).sum(axis=0)
    first, second, third = corners[triangles].swapaxes(0, 1)
    turned = np.cross(second - first, third - first) @ facing < 0
    triangles[turned] = triangles[turned][:, ::-1]
    named = rows[triangles, place]
    real = (named != np.roll(named, 1, axis=1)).all(axis=1)
    return rows[triangles[real]].reshape(-1, rows.shape[1])


def _numbers(source, width):
    """The values of a source (N, at least width); pycollada turns what is no number into 0 without a word."""
    array = next(element for element in source.xmlnode if element.tag.endswith("_array"))
    told = int(array.get("count", source.data.size))
    text = array.text or ""
    if told != source.data.size and told != len(text.split()):
        raise ValueError(f"its source {source.id} holds {source.data.size} numbers and not {told}")
    if "n" in text or "N" in text or not np.isfinite(source.data).all():
        raise ValueError(f"its source {source.id} holds what is not a number")
    if source.data.shape[1] < width:
        raise ValueError(f"its source {source.id} has {source.data.shape[1]} numbers a place and not {width}")
    return source.data


def _picked(source, rows, width):
    values = _numbers(source, width)
    if len(rows) and not 0 <= rows.min() <= rows.max() < len(values):
        raise ValueError(f"its faces ask for more than its source {source.id} holds")
    return values[rows][:, :width]


def _painted(source, rows):
    colours = _picked(source, rows, 3)
    alpha = _picked(source, rows, 4)[:, 3:] if source.data.shape[1] > 3 else np.ones((len(rows), 1))
    return np.concatenate([colours, alpha], axis=1)


def _carried(values, primitives, missing):
    """What the corners of all primitives carry; None where none does, or one does not and nothing can stand for it."""
    if all(each is None for each in values) or (missing is None and any(each is None for each in values)):
        return None
    width = next(each.shape[1] for each in values if each is not None)
    whole: Iterator[np.ndarray] = (
        np.full((len(primitive.corners), width), missing) if each is None else each
        for each, primitive in zip(values, primitives, strict=True)
    )
    return np.concatenate(list(whole))


def _joined(arrays, width=None):
    arrays = list(arrays)
    if not arrays:
        return np.zeros((0, width) if width else 0)
    return np.concatenate([each[:, :width] for each in arrays] if width else arrays)
