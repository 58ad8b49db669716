"""Bricks of one part share one mesh, however often and however turned the export wrote it."""

from collections import defaultdict
from collections.abc import Collection, Generator
from dataclasses import dataclass, replace
from operator import itemgetter

import bpy
import numpy as np
from mathutils import Matrix

from ...blender import meshes_of, values_of
from ...core.parts.alike import NOISE_MM, Match, Parts, Shape
from ...core.slices import is_over, rest, whole
from ..columns import matrices
from .forms import READABLE, VALUES, column, got, read

_MIRROR = np.diag([-1.0, 1.0, 1.0])
_STEP_UV, _STEP_COLOUR = 1e-4, 1.0 / 512.0
_ROUNDED = 3e-7  # of the largest number: what single precision and its sums leave of equal points
_EDGES = {".edge_verts", ".corner_edge"}
_PASSED_OVER = (".select", ".hide", "position")  # the first two are no part of a mesh; 5.0 names a wrong type of theirs
_FIRST = 32  # parts of equal lists that a copy is compared with
_PLACES = 200_000  # vertices of a mesh beyond which it is no brick worth comparing


def share(objects: list[bpy.types.Object], mm_per_unit: float, untold: Collection[int] = ()) -> int:
    """Lets objects of one part and one look share a mesh, each where it stands; how many meshes that saves.

    Of meshes with the session ids `untold` no window has been told yet.
    """
    return whole(sharing(objects, mm_per_unit, untold))


def sharing(
    objects: list[bpy.types.Object], mm_per_unit: float, untold: Collection[int] = ()
) -> Generator[None, None, int]:
    """The same in parts."""
    before = set(meshes_of(objects))
    if len(before) < 2:
        return 0
    shelf = _Shelf()
    for seen, alike in _seen(objects, mm_per_unit).items():
        if len(seen.mesh.vertices) <= _PLACES and not seen.mesh.shape_keys:
            shelf.show(seen, alike)
        if is_over():
            yield
    gone = [mesh for mesh in before if not mesh.users]
    yield from rest()  # or windows wait to be told of what was done to objects
    yield from _letting_go(gone, untold)
    return len(gone)


def copies(objects: list[bpy.types.Object], untold: Collection[int] = (), may_move: bool = False) -> None:
    """Lets objects share a mesh that the export wrote out once for each of them, number for number; where they
    `may_move`, also one that stands elsewhere in the mesh's own space, and objects stand there in its place.

    Done first, it saves all that comes after from looking at every copy. `untold`: as in share().
    """
    whole(copying(objects, untold, may_move))


def copying(
    objects: list[bpy.types.Object], untold: Collection[int] = (), may_move: bool = False
) -> Generator[None, None, None]:
    """The same in parts."""
    alike: dict[tuple, list[bpy.types.Mesh]] = defaultdict(list)
    for mesh in dict.fromkeys(meshes_of(objects)):
        if len(mesh.vertices) and not mesh.shape_keys:
            alike[_at_a_glance(mesh)].append(mesh)
        if is_over():
            yield
    still = {obj.parent.data for obj in bpy.data.objects if obj.parent is not None} if may_move else set()
    first: dict[bpy.types.Mesh, tuple[bpy.types.Mesh, np.ndarray]] = {}
    for meshes in alike.values():
        written: dict[bytes, list[tuple[bpy.types.Mesh, np.ndarray]]] = defaultdict(list)
        for mesh in meshes if len(meshes) > 1 else ():
            same, points = written[_number_for_number(mesh)], column(mesh, "position", 3, np.float32)
            found = _shifted(points, same[:_FIRST], may_move and mesh not in still)
            first[mesh] = found or (mesh, np.zeros(3))
            if found is None:
                same.append((mesh, points))
            if is_over():
                yield
    for obj, own in zip(objects, list(meshes_of(objects)), strict=True):
        mesh, shift = first.get(own, (own, None))
        if mesh != own:
            obj.data = mesh
            if shift is not None and shift.any():
                obj.matrix_basis = obj.matrix_basis @ Matrix.Translation(shift.tolist())
        if is_over():
            yield
    yield from rest()
    yield from _letting_go([mesh for mesh in first if not mesh.users], untold)


def _shifted(
    points: np.ndarray, same: list[tuple[bpy.types.Mesh, np.ndarray]], may_move: bool
) -> tuple[bpy.types.Mesh, np.ndarray] | None:
    """The first mesh of which points (V, 3) are those of this one, and how far off (3,) they are."""
    for mesh, others in same:
        if (points == others).all():
            return mesh, np.zeros(3)
        if may_move:
            apart = points.astype(float) - others
            shift = apart.mean(axis=0)
            if np.abs(apart - shift).max() <= _ROUNDED * max(np.abs(points).max(), np.abs(others).max()):
                return mesh, shift
    return None


def _letting_go(meshes: list[bpy.types.Mesh], untold: Collection[int]) -> Generator[None, None, None]:
    """Removes meshes without users, in parts. What windows wait to be told is looked through for each, as long as there
    are objects; for one that nothing was said of that need not be."""
    quietly = [mesh for mesh in meshes if mesh.session_uid in untold]
    if told := [mesh for mesh in meshes if mesh.session_uid not in untold]:
        bpy.data.batch_remove(told)  # removing none too makes Blender link up all objects anew
    for mesh in quietly:
        bpy.data.meshes.remove(mesh, do_unlink=False, do_ui_user=False)
        if is_over():
            yield


def _at_a_glance(mesh: bpy.types.Mesh) -> tuple:
    """What copies have alike, read in no time."""
    counts = len(mesh.vertices), len(mesh.edges), len(mesh.loops), len(mesh.polygons)
    return *counts, *(material.session_uid if material else 0 for material in mesh.materials)


def _number_for_number(mesh: bpy.types.Mesh) -> bytes:
    """Tells meshes apart by all lists but that of places; one that cannot be read as numbers is like no other."""
    triangles = len(mesh.loops) == 3 * len(mesh.polygons)  # no face of a sound mesh has fewer corners
    lists: list[bytes | memoryview] = [] if triangles else [got(mesh.polygons, "loop_total", 1, np.int32).data]
    attributes = sorted(((each.name, each) for each in mesh.attributes), key=itemgetter(0))
    others = [(name, each) for name, each in attributes if name not in _EDGES]
    if not any(each.domain == "EDGE" for _, each in others):  # no one asks which edge is which
        attributes = others
    for name, each in attributes:
        if name.startswith(_PASSED_OVER):
            continue
        if each.data_type not in READABLE:
            return mesh.name_full.encode()
        lists += [name.encode(), read(each).data]
    return b"".join(lists)


@dataclass(frozen=True)
class _Seen:
    """A mesh as objects show it: mirrored or not, with the millimetres that its units measure along its axes (3,)."""

    mesh: bpy.types.Mesh
    mirrored: bool
    mm: tuple[float, float, float]

    def shape(self) -> Shape:
        points, corners, counts = _lists(self.mesh)
        points = points * np.array(self.mm)
        tags = _tags(self.mesh, corners, counts)
        return Shape(points @ _MIRROR if self.mirrored else points, corners, counts, tags)


class _Shelf:
    """The parts met so far, by shape, and the mesh that shows each look of a part.

    A mesh of one look all over shares its part with those of other looks.
    """

    def __init__(self) -> None:
        self.parts = Parts()
        self.first: list[_Seen] = []
        self.looks: dict[tuple, tuple[_Seen, Match]] = {}

    def show(self, seen: _Seen, objects: list[bpy.types.Object]) -> None:
        """Lets objects show their part's mesh of the same look; theirs becomes it where there is none."""
        shape, look = seen.shape(), b""
        if len(shape.tags) and (shape.tags == shape.tags[0]).all():
            look = shape.tags[0].tobytes()
            shape = replace(shape, tags=np.zeros((len(shape.tags), 1), dtype=int))
        found = self.parts.match(shape)
        if found.of == len(self.first):
            self.first.append(seen)
        if (found.of, look) not in self.looks:
            self.looks[found.of, look] = self._in_this_look(found, shape, seen)
        part, stands = self.looks[found.of, look]
        if part.mesh != seen.mesh:
            _show(objects, found.after(stands), seen, part)

    def _in_this_look(self, found: Match, shape: Shape, seen: _Seen) -> tuple[_Seen, Match]:
        """The first mesh of a part in the materials of another, where nothing else tells them apart."""
        first = self.first[found.of]
        if self.parts.is_copy(found, shape) or any(
            mesh.color_attributes or len(mesh.materials) > 1 for mesh in (first.mesh, seen.mesh)
        ):
            return seen, found
        mesh = first.mesh.copy()
        mesh.name = seen.mesh.name
        mesh.materials.clear()
        for material in seen.mesh.materials:
            mesh.materials.append(material)
        return replace(first, mesh=mesh), Match(found.of, np.eye(3), np.zeros(3))


def _seen(objects: list[bpy.types.Object], mm_per_unit: float) -> dict[_Seen, list[bpy.types.Object]]:
    """Objects by what they show, at a scale to a ten-thousandth."""
    linear = matrices(objects)[:, :3, :3]
    mirrored = np.linalg.det(linear) < 0
    scale = np.linalg.norm(linear, axis=1) * mm_per_unit
    step = 10.0 ** np.floor(np.log10(np.maximum(scale, 1e-30)) - 3)
    scale = np.rint(scale / step) * step
    found: dict[tuple, list[bpy.types.Object]] = defaultdict(list)
    for obj, flip, mm in zip(objects, mirrored.tolist(), map(tuple, scale.tolist()), strict=True):
        found[obj.data, flip, mm].append(obj)
    return {_Seen(*seen): alike for seen, alike in found.items()}


def _lists(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points (V, 3), the point of each corner, and how many corners each face has."""
    points, counts = column(mesh, "position", 3, np.float32), got(mesh.polygons, "loop_total", 1, np.int32)
    return points.astype(float), column(mesh, ".corner_vert"), counts


def _tags(mesh: bpy.types.Mesh, corners: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """What tells meshes of one shape apart, a row a corner: material, colours, and the place on a print."""
    slots = [material.session_uid if material else 0 for material in mesh.materials] or [0]
    slot = column(mesh, "material_index")
    slot = np.clip(slot if len(slot) else np.zeros(len(counts), np.int32), 0, len(slots) - 1)
    columns = [np.repeat(np.array(slots)[slot], counts)]
    for attribute in mesh.color_attributes:
        values = got(values_of(attribute), VALUES[attribute.data_type], 4, np.float32)
        values = np.rint(values / _STEP_COLOUR).astype(int)
        columns += list(values[corners].T if attribute.domain == "POINT" else values.T)
    if any(map(_shows_picture, mesh.materials)):
        for layer in mesh.uv_layers:
            columns += list(np.rint(got(layer.uv, "vector", 2, np.float32) / _STEP_UV).astype(int).T)
    return np.stack(columns, axis=1)


def _shows_picture(material: bpy.types.Material | None) -> bool:
    tree = material.node_tree if material else None
    return tree is not None and any(node.bl_idname == "ShaderNodeTexImage" for node in tree.nodes)


def _show(objects: list[bpy.types.Object], found: Match, seen: _Seen, part: _Seen) -> None:
    """Lets objects show the mesh of their part: turned, shifted and scaled so that each stands where it did."""
    before, after = (_MIRROR if each.mirrored else np.eye(3) for each in (seen, part))
    pose = np.eye(4)
    mm = np.array(seen.mm)
    pose[:3, :3] = np.diag(1.0 / mm) @ before @ found.turn @ after @ np.diag(part.mm)
    pose[:3, 3] = before @ found.shift / mm
    still = np.abs(pose[:3, :3] - np.eye(3)).max() < 1e-6 and np.abs(pose[:3, 3] * mm).max() < 0.1 * NOISE_MM
    for obj in objects:
        if not still:
            moved = np.array(obj.matrix_basis, dtype=float) @ pose
            columns = moved[:3, :3] / np.maximum(np.linalg.norm(moved[:3, :3], axis=0), 1e-30)
            if np.abs(columns.T @ columns - np.eye(3)).max() > 1e-4:
                continue  # no object can be sheared
            obj.matrix_basis = Matrix(moved.tolist())
        obj.data = part.mesh
