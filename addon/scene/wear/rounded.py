"""Meshes with the edges of a mould: every sharp outward edge rounded, flat faces still flat.

Blender's Bevel modifier rounds; before it, what CAD leaves behind is put in order (split points joined, flat faces in
one piece), and each edge is given as much of the radius as the faces beside it have room for.
"""

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import product

import bmesh
import bpy
import numpy as np

from ...blender import values_of
from ...core import units
from ...core.slices import is_over, is_slicing, rest, sliced, whole
from ...core.wear.creases import Faces, corner_normals
from ...core.wear.planes import flattened
from ...core.wear.room import room
from ..exports.forms import got, points_of
from . import paint, seams
from .seams import FLAT, SHARP

EDGE = "playworn_edge"  # of a mesh's points: 0 on faces, most in the middle of a rounding

_SEGMENTS = 4  # even: a row of points runs along the middle
_KEPT = np.cos(units.radians(1.0))  # a face that leans less against its old plane was there before
_CLEAR_OF_CORNERS = 3.0  # radii
_SHARE_OF_ROOM = 0.45  # for each of the two roundings that meet on a face
_WIDEST = 2.5  # radii that a rounding may take off a face, as a knife's edge would
_LEAST_DONE = 0.8  # of the roundings' area
# Where points are spread by some micrometres results leave the box by as much, and are put back; broken ones leave it
# by more than a tenth of a millimetre.
_GROWN_MM = 0.01
_TURNED, _SLIVER_MM2 = 0.5, 1e-3  # faces that look the other way: two roundings have met there
_MIDDLE = 0.6  # of an edge of 90°: as much rub as the rays of the shading find on average
_HALF_WAY = 1.0 - 0.5**0.5  # the middle of such an edge leans by 45°
_TOO_FINE = "cannot be rounded: its details are finer than the radius"
_WEIGHT, _NUMBER = "bevel_weight_edge", "playworn_face"


@dataclass(frozen=True)
class Raw:
    """A mesh to round: its points (V, 3) in the brick's own mm, and how these lead back to the mesh's own space."""

    mesh: bpy.types.Mesh
    points: np.ndarray
    scale: np.ndarray  # (3,) mm per unit of the mesh's axes
    middle: np.ndarray  # (3,) where, in the mesh's own axes and units, the brick's mm start

    outline: tuple[np.ndarray, np.ndarray] | None = None  # (3,) and (3,) where it is not that of the points

    @cached_property
    def laid_flat(self) -> "Raw":
        """The same within its outline, its points in the planes of its faces; itself where they lie there."""
        given = _faces(self.mesh, self.points)
        made = flattened(given)
        outline = self.points.min(axis=0), self.points.max(axis=0)
        return self if made is given else replace(self, points=made.points, outline=outline)


_SHARES = (1.0, 0.9, 0.5)  # of the radius that are tried: a little less helps where a seam falls unluckily
Rounded = bpy.types.Mesh | str  # a mesh of ours, or why there is none


class _Unroundable(Exception):
    """Why a mesh keeps its edges."""


def rounded(raws: Sequence[Raw], radius_mm: float) -> list[Rounded]:
    """A new mesh for each, or the reason why there is none. Materials, UV maps and what is
    painted are as before.

    What is made on the way is left to the attempt that this is part of, where something raises.
    """
    return whole(rounding(raws, radius_mm))


def rounding(raws: Sequence[Raw], radius_mm: float) -> Generator[None, None, list[Rounded]]:
    """The same in parts."""
    made: list[Rounded] = [""] * len(raws)
    left = list[bpy.types.ID]()
    for share, is_flat in product(_SHARES, (False, True)):
        failed = [n for n, each in enumerate(made) if isinstance(each, str)]
        tried = {n: raws[n].laid_flat if is_flat else raws[n] for n in failed}
        tried = {n: raw for n, raw in tried.items() if not is_flat or raw is not raws[n]}
        now = yield from _rounding(list(tried.values()), share * radius_mm, left)
        for n, each in zip(tried, now, strict=True):
            made[n] = made[n] if made[n] and isinstance(each, str) else each  # the first reason is the truest
    if left:  # all at once, and never none: Blender links up all objects of the file anew
        yield from rest()
        bpy.data.batch_remove(left)
        yield
    return made


def _rounding(raws: Sequence[Raw], radius_mm: float, left: list[bpy.types.ID]) -> Generator[None, None, list[Rounded]]:
    prepared, made = list[_Prepared | str](), list[Rounded]()
    for raw in raws:
        prepared.append((yield from _preparing(raw, radius_mm)))
        yield
    sound = [(raw.mesh, each) for raw, each in zip(raws, prepared, strict=True) if not isinstance(each, str)]
    results = _bevelled(sound, left) if sound else iter(())
    yield
    for raw, each in zip(raws, prepared, strict=True):
        made.append(each if isinstance(each, str) else (yield from _finishing(raw, each, next(results), left)))
        yield
    return made


@dataclass(frozen=True)
class _Prepared:
    mesh: bpy.types.Mesh  # in mm, with a bevel weight on its edges
    width_mm: float  # at a weight of 1
    planes: np.ndarray  # (F, 3) unit normals of its faces
    rounding_mm2: float  # area that the roundings should have
    volume_mm3: float


def _preparing(raw: Raw, radius_mm: float) -> Generator[None, None, _Prepared | str]:
    shape = bmesh.new()
    try:
        shape.from_mesh(raw.mesh)
        for point, place in zip(shape.verts, raw.points.tolist(), strict=True):
            point.co = place
        paint.number_faces(shape, raw.mesh)
        yield from seams.putting_in_order(shape, _CLEAR_OF_CORNERS * radius_mm)
        return (yield from _weighing(shape, raw.mesh, radius_mm))
    except _Unroundable as reason:
        return str(reason)
    finally:
        shape.free()


def _weighing(shape: bmesh.types.BMesh, mesh: bpy.types.Mesh, radius_mm: float) -> Generator[None, None, _Prepared]:
    layer = shape.edges.layers.float.get(_WEIGHT) or shape.edges.layers.float.new(_WEIGHT)
    number = shape.faces.layers.int.new(_NUMBER)
    if shape.calc_volume(signed=True) < 0.0:
        bmesh.ops.reverse_faces(shape, faces=list(shape.faces))  # as some programs write bodies: inside out
    volume = shape.calc_volume(signed=True)
    if volume <= 0.0:
        raise _Unroundable("encloses nothing: no edge of it can be told to point outward")
    angles = np.array([edge.calc_face_angle_signed() if edge.is_manifold else np.pi for edge in shape.edges])
    manifold = np.array([edge.is_manifold for edge in shape.edges])
    sharp = np.flatnonzero(manifold & (angles > SHARP))
    if not len(sharp):
        raise _Unroundable("has no sharp edge")
    angle = angles[sharp]
    half = np.tan(0.5 * np.minimum(angle, units.radians(170.0)))
    wanted = np.minimum(radius_mm * half, _WIDEST * radius_mm)
    yield
    free = yield from _measuring(shape, np.abs(angles) < FLAT, sharp, float(wanted.max()) / _SHARE_OF_ROOM)
    wide = np.minimum(wanted, _SHARE_OF_ROOM * free)
    width = float(wide.max())
    weights = np.zeros(len(angles))
    weights[sharp] = wide / width
    lengths = np.empty(len(angles))
    for n, edge in enumerate(shape.edges):
        edge[layer], lengths[n] = weights[n], edge.calc_length()
    yield
    for face in shape.faces:
        face[number] = face.index
    planes = np.array([face.normal[:] for face in shape.faces])
    made = bpy.data.meshes.new(mesh.name)
    shape.to_mesh(made)
    return _Prepared(made, width, planes, float((lengths[sharp] * angle * wide / half).sum()), volume)


def _measuring(
    shape: bmesh.types.BMesh, flat: np.ndarray, sharp: np.ndarray, reach_mm: float
) -> Generator[None, None, np.ndarray]:
    """How far (E,) from each sharp edge the next rim of the flat regions beside it lies, the nearer of the two."""
    order = np.full(len(flat), -1)
    order[sharp] = np.arange(len(sharp))
    rims, edges, regions, normals = [], [], [], []
    for number, region in enumerate(_regions(shape, flat)):
        for loop in (loop for face in region for loop in face.loops if not flat[loop.edge.index]):
            rims.append((loop.vert.co[:], loop.link_loop_next.vert.co[:]))
            edges.append(loop.edge.index)
            regions.append(number)
            normals.append(region[0].normal[:])
        if is_over():
            yield
    rims, asked = np.array(rims), np.flatnonzero(order[edges] >= 0)
    free = yield from sliced(
        partial(room, rims[:, 0], rims[:, 1], np.array(normals), np.array(regions), asked, reach_mm)
    )
    least = np.full(len(sharp), np.inf)
    np.minimum.at(least, order[edges][asked], free)
    return least


def _regions(shape: bmesh.types.BMesh, flat: np.ndarray) -> Iterator[list]:
    """Connected faces in one plane."""
    seen = np.zeros(len(shape.faces), dtype=bool)
    for face in shape.faces:
        if seen[face.index]:
            continue
        seen[face.index] = True
        region, waiting = [], [face]
        while waiting:
            one = waiting.pop()
            region.append(one)
            for edge in one.edges:
                if flat[edge.index]:
                    fresh = [other for other in edge.link_faces if not seen[other.index]]
                    for other in fresh:
                        seen[other.index] = True
                    waiting += fresh
        yield region


def _bevelled(prepared: list[tuple[bpy.types.Mesh, _Prepared]], left: list[bpy.types.ID]) -> Iterator[bpy.types.Mesh]:
    """The meshes after the Bevel modifier, from a scene that nobody sees; it is left, with what is in it."""
    scene = bpy.data.scenes.new("Playworn rounding")
    left.append(scene)
    things = []
    for mesh, each in prepared:
        for material in mesh.materials:  # not before: Blender links up all objects anew after it
            each.mesh.materials.append(material)
        thing = bpy.data.objects.new(each.mesh.name, mesh)
        groups = thing.vertex_groups.keys()  # a mesh keeps their names, and its objects alone tell them
        thing.data = each.mesh
        for group in groups:
            thing.vertex_groups.new(name=group)
        left += (thing, each.mesh)
        things.append(thing)
        scene.collection.objects.link(thing)
        bevel = thing.modifiers.new("round", "BEVEL")
        assert isinstance(bevel, bpy.types.BevelModifier)
        bevel.width, bevel.segments, bevel.profile = each.width_mm, _SEGMENTS, 0.5
        bevel.offset_type, bevel.limit_method = "OFFSET", "WEIGHT"
        bevel.use_clamp_overlap = bevel.loop_slide = False  # where a seam is short it would thin all roundings
        bevel.show_viewport = not is_slicing()
    return _evaluated(scene.view_layers[0], things)


def _evaluated(layer: bpy.types.ViewLayer, things: list[bpy.types.Object]) -> Iterator[bpy.types.Mesh]:
    """What objects look like with their modifiers: one after the other where those do not show yet, or all together,
    which keeps several threads busy."""
    layer.update()
    for thing in things:
        if not thing.modifiers[0].show_viewport:
            thing.modifiers[0].show_viewport = True
            layer.update()
        graph = layer.depsgraph
        assert graph is not None
        yield bpy.data.meshes.new_from_object(thing.evaluated_get(graph), depsgraph=graph)


def _finishing(
    raw: Raw, prepared: _Prepared, mesh: bpy.types.Mesh, left: list[bpy.types.ID]
) -> Generator[None, None, Rounded]:
    """The rounded mesh back in its own space, with its normals and the attribute that tells where it is rounded."""
    faces = _faces(mesh, points_of(mesh))
    number = np.empty(len(mesh.polygons), np.int32)
    values_of(mesh.attributes[_NUMBER]).foreach_get("value", number)
    vectors = faces.vectors
    length = np.sqrt((vectors**2).sum(axis=1))
    facing = (vectors * prepared.planes[number]).sum(axis=1)
    flat = facing > _KEPT * length
    done = 0.5 * float(length[~flat].sum()) / prepared.rounding_mm2
    over = 0.5 * float(length[facing < -_TURNED * length].sum())
    low, high = raw.outline or _outline(prepared)
    reason = _wrong(prepared, faces, done, low, high) or (_TOO_FINE if over > _SLIVER_MM2 else "")
    if reason:
        left.append(mesh)
        return reason
    for name in (_NUMBER, _WEIGHT, paint.FACE, "sharp_edge", "custom_normal"):
        if name in mesh.attributes:
            mesh.attributes.remove(mesh.attributes[name])
    edge = _edge(faces, vectors, prepared.planes[number], flat)
    values_of(mesh.attributes.new(EDGE, "FLOAT", "POINT")).foreach_set("value", edge)
    own = (faces.points.clip(low, high) / raw.scale + raw.middle).astype(np.float32)
    mesh.vertices.foreach_set("co", own.ravel())
    mesh.polygons.foreach_set("use_smooth", np.ones(len(mesh.polygons), dtype=bool))
    normals = (yield from sliced(partial(corner_normals, faces, flat))) * raw.scale
    mesh.normals_split_custom_set((normals / np.linalg.norm(normals, axis=1, keepdims=True)).tolist())
    mesh.update()
    return mesh


def _edge(faces: Faces, vectors: np.ndarray, planes: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """How far within a rounding each point lies, by its lean against the flat faces beside."""
    normals = np.zeros_like(faces.points)
    np.add.at(normals, faces.corners, vectors[faces.face])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    straight = np.full(len(normals), -1.0)
    np.maximum.at(straight, faces.corners, (normals[faces.corners] * planes[faces.face]).sum(axis=1))
    edge = _MIDDLE * np.clip((1.0 - straight) / _HALF_WAY, 0.0, 1.0)
    edge[faces.corners[flat[faces.face]]] = 0.0
    return edge.astype(np.float32)


def _faces(mesh: bpy.types.Mesh, points: np.ndarray) -> Faces:
    corners, sizes = got(mesh.loops, "vertex_index", 1, np.int32), got(mesh.polygons, "loop_total", 1, np.int32)
    return Faces(points.astype(np.float64), corners, sizes)


def _outline(prepared: _Prepared) -> tuple[np.ndarray, np.ndarray]:
    """Corners (3,) and (3,) of the box around what was to be rounded."""
    before = points_of(prepared.mesh)
    return before.min(axis=0), before.max(axis=0)


def _wrong(prepared: _Prepared, faces: Faces, done: float, low: np.ndarray, high: np.ndarray) -> str:
    """What speaks against a result, "" for nothing; low and high (3,) are the corners of what it was."""
    if not np.isfinite(faces.points).all():
        return "cannot be rounded: points of it are lost"
    if (faces.points < low - _GROWN_MM).any() or (faces.points > high + _GROWN_MM).any():
        return "cannot be rounded: it would grow out of its outline"
    origin = faces.points[faces.corners[faces.start]]
    volume = float((faces.vectors * origin).sum()) / 6.0
    if not 0.5 * prepared.volume_mm3 < volume < prepared.volume_mm3 * (1.0 + 1e-6):
        return "cannot be rounded: its walls are too thin or not closed"
    return "" if done > _LEAST_DONE else _TOO_FINE
