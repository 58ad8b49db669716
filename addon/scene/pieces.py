"""One object that holds a whole build, taken apart into bricks that share a mesh where they are the same part."""

from collections import defaultdict
from dataclasses import dataclass
from math import radians

import bpy
import numpy as np
from mathutils import Matrix

from ..core import lattice, shells

SMOOTH_BELOW = radians(30)  # facets of a round stud meet flatter than this, walls do not
SAME_PART = 2e-6  # of the largest coordinate: bricks whose corners differ by less are one part
VALUES = {"FLOAT": "value", "INT": "value", "BOOLEAN": "value", "INT8": "value"}
VALUES |= {"FLOAT2": "vector", "FLOAT_VECTOR": "vector", "FLOAT_COLOR": "color", "BYTE_COLOR": "color"}
WIDTHS = {"FLOAT2": 2, "FLOAT_VECTOR": 3, "FLOAT_COLOR": 4, "BYTE_COLOR": 4}
MADE_BY_THE_MESH = {"position", "custom_normal", "sharp_edge", "sharp_face"}


def apart(whole: bpy.types.Object) -> tuple[list[bpy.types.Object], tuple[str, ...]]:
    """Replace an object by one for each shell of its mesh, origins at the bodies' middles; with what to tell.

    An object that is one shell stays as it is, and so does one of open surfaces that do not stand like bricks.
    """
    form = _Form.of(whole.data)
    parts = shells.split(form.points, form.triangles)
    if len(parts) < 2:
        whole.data.validate()
        return [whole], ()
    open_ = int((~parts.closed).sum())
    faces_of = _faces_of_shells(form, parts)
    if open_ > len(parts) / 2 and not _like_bricks(form, faces_of):
        whole.data.validate()
        said = f"{whole.name} is made of {open_} open surfaces, so its bricks cannot be told apart: export solids."
        return [whole], (said,)
    bricks = _bricks(whole, form, faces_of)
    mesh = whole.data
    bpy.data.objects.remove(whole)
    bpy.data.meshes.remove(mesh)
    holes = (
        f"{open_} of {len(parts)} bricks have holes where they touch others: export with clearance, or as .glb or .stl."
    )
    return bricks, (holes,) if open_ else ()


def _like_bricks(form, faces_of):
    clouds = (form.points[form.corners[_corners(form, faces)]] for faces in faces_of)
    return lattice.find(lattice.Boxes.of(clouds), expected_mm=1.0).share_on_lattice > 0.5


@dataclass(frozen=True)
class _Form:
    """A mesh as arrays: points (V, 3), triangles (T, 3), corner -> point, and the corners where each face starts."""

    points: np.ndarray
    triangles: np.ndarray
    face_of_triangle: np.ndarray
    corners: np.ndarray
    starts: np.ndarray
    counts: np.ndarray

    @classmethod
    def of(cls, mesh):
        mesh.calc_loop_triangles()
        return cls(
            _got(mesh.vertices, "co", 3, np.float32).astype(float),
            _got(mesh.loop_triangles, "vertices", 3, np.int32),
            _got(mesh.loop_triangles, "polygon_index", 1, np.int32),
            _got(mesh.loops, "vertex_index", 1, np.int32),
            _got(mesh.polygons, "loop_start", 1, np.int32),
            _got(mesh.polygons, "loop_total", 1, np.int32),
        )


def _got(items, name, width, dtype):
    values = np.empty(len(items) * width, dtype=dtype)
    items.foreach_get(name, values)
    return values.reshape(-1, width) if width > 1 else values


def _corners(form, faces):
    """The corners of some faces, face after face."""
    counts = form.counts[faces]
    skipped = form.starts[faces] - (np.cumsum(counts) - counts)
    return np.repeat(skipped, counts) + np.arange(counts.sum())


def _bricks(whole, form, faces_of):
    normals = _got(whole.data.corner_normals, "vector", 3, np.float32) if whole.data.has_custom_normals else None
    digits = len(str(len(faces_of)))
    stem, collections = whole.name, whole.users_collection
    slots = _got(whole.data.polygons, "material_index", 1, np.int32)
    near = SAME_PART * np.abs(form.points).max()
    known = defaultdict(list)
    bricks = []
    for number, faces in enumerate(faces_of):
        corners = _corners(form, faces)
        points, own = np.unique(form.corners[corners], return_inverse=True)
        _, _, low, high = lattice.box(form.points[points])
        middle = (low + high) / 2
        shape = form.points[form.corners[corners]] - middle
        alike = known[form.counts[faces].tobytes(), slots[faces].tobytes()]
        mesh = next((mesh for seen, mesh in alike if _same(seen, shape, near)), None)
        if mesh is None:
            mesh = _mesh(whole.data, form, faces, corners, points, own, middle, normals)
            alike.append((shape, mesh))
        brick = bpy.data.objects.new(f"{stem}.{number + 1:0{digits}d}", mesh)
        brick.matrix_world = whole.matrix_world @ Matrix.Translation(middle)
        for collection in collections:
            collection.objects.link(brick)
        bricks.append(brick)
    return bricks


def _faces_of_shells(form, parts):
    """The faces of each shell in the file's order."""
    label = np.full(len(form.starts), -1)
    label[form.face_of_triangle] = parts.label
    order = np.argsort(label, kind="stable")
    return np.split(order, np.searchsorted(label[order], np.arange(len(parts))))[1:]


def _same(seen, shape, near):
    return seen.shape == shape.shape and np.abs(seen - shape).max() <= near


def _mesh(source, form, faces, corners, points, own, middle, normals):
    mesh = bpy.data.meshes.new(source.name)
    mesh.vertices.add(len(points))
    mesh.vertices.foreach_set("co", (form.points[points] - middle).astype(np.float32).ravel())
    mesh.loops.add(len(corners))
    mesh.loops.foreach_set("vertex_index", own.astype(np.int32))
    mesh.polygons.add(len(faces))
    counts = form.counts[faces]
    mesh.polygons.foreach_set("loop_start", (np.cumsum(counts) - counts).astype(np.int32))
    for material in source.materials:
        mesh.materials.append(material)
    for attribute in source.attributes:
        chosen = {"POINT": points, "CORNER": corners, "FACE": faces}.get(attribute.domain)
        if chosen is not None and not attribute.is_internal and attribute.name not in MADE_BY_THE_MESH:
            _copy(attribute, mesh, chosen)
    mesh.update(calc_edges=True)
    mesh.validate()
    if normals is not None and len(mesh.loops) == len(corners):
        mesh.normals_split_custom_set(normals[corners])
    else:
        shade(mesh)
    return mesh


def reface(obj: bpy.types.Object, faces: list[np.ndarray]) -> None:
    """Give an object a mesh of the same vertices, with their colours, and these faces."""
    old = obj.data
    mesh = bpy.data.meshes.new(old.name)
    mesh.from_pydata(_got(old.vertices, "co", 3, np.float32), [], [face.tolist() for face in faces])
    for attribute in old.attributes:
        if attribute.domain == "POINT" and not attribute.is_internal and attribute.name not in MADE_BY_THE_MESH:
            _copy(attribute, mesh, slice(None))
    shade(mesh)
    obj.data = mesh
    bpy.data.meshes.remove(old)


def _copy(attribute, mesh, chosen):
    if attribute.data_type not in VALUES:
        return
    field, width = VALUES[attribute.data_type], WIDTHS.get(attribute.data_type, 1)
    dtype = {"value": {"INT": np.int32, "INT8": np.int32, "BOOLEAN": bool}.get(attribute.data_type, np.float32)}
    values = _got(attribute.data, field, width, dtype.get(field, np.float32))
    fresh = mesh.attributes.new(attribute.name, attribute.data_type, attribute.domain)
    fresh.data.foreach_set(field, np.ascontiguousarray(values[chosen]).ravel())


def shade(mesh: bpy.types.Mesh) -> None:
    """Round what is round and keep edges sharp, for a mesh whose file had no normals."""
    mesh.shade_smooth()
    mesh.set_sharp_from_angle(angle=SMOOTH_BELOW)
