"""Bricks of one part share one mesh, however often and however turned the export wrote it."""

from collections import defaultdict
from dataclasses import dataclass, replace

import bpy
import numpy as np
from mathutils import Matrix

from ..core.alike import NOISE_MM, Match, Parts, Shape
from .forms import VALUES, Form, got

_MIRROR = np.diag([-1.0, 1.0, 1.0])
_STEP_UV, _STEP_COLOUR = 1e-4, 1.0 / 512.0
_PLACES = 200_000  # vertices of a mesh beyond which it is no brick worth comparing


def share(objects: list[bpy.types.Object], mm_per_unit: float) -> int:
    """Lets objects of one part and one look share a mesh, each where it stands; how many meshes that saves."""
    by_mesh: dict[tuple[bpy.types.Mesh, bool], list[bpy.types.Object]] = defaultdict(list)
    for obj in objects:
        by_mesh[obj.data, obj.matrix_world.determinant() < 0].append(obj)
    before = {mesh for mesh, _ in by_mesh}
    if len(before) < 2:
        return 0
    shelf = _Shelf()
    for (mesh, mirrored), showing in by_mesh.items():
        if len(mesh.vertices) <= _PLACES and not mesh.shape_keys:
            for scale, alike in _by_scale(showing).items():
                shelf.show(_Seen(mesh, mirrored, np.array(scale) * mm_per_unit), alike)
    gone = [mesh for mesh in before if not mesh.users]
    bpy.data.batch_remove(gone)
    bpy.context.view_layer.update()
    return len(gone)


@dataclass(frozen=True)
class _Seen:
    """A mesh as objects show it: mirrored or not, with the millimetres that its units measure along its axes (3,)."""

    mesh: bpy.types.Mesh
    mirrored: bool
    mm: np.ndarray

    def shape(self) -> Shape:
        form = Form.of(self.mesh)
        points = form.points * self.mm
        tags = _tags(self.mesh, form)
        return Shape(points @ _MIRROR if self.mirrored else points, form.corners, form.counts, tags)


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
            self.looks[found.of, look] = self._in_this_look(found, seen)
        part, stands = self.looks[found.of, look]
        if part.mesh != seen.mesh:
            _show(objects, found.after(stands), seen, part)

    def _in_this_look(self, found: Match, seen: _Seen) -> tuple[_Seen, Match]:
        """The first mesh of a part in the materials of another, where nothing else tells them apart."""
        first = self.first[found.of]
        if first.mesh == seen.mesh or any(
            mesh.color_attributes or len(mesh.materials) > 1 for mesh in (first.mesh, seen.mesh)
        ):
            return seen, found
        mesh = first.mesh.copy()
        mesh.name = seen.mesh.name
        mesh.materials.clear()
        for material in seen.mesh.materials:
            mesh.materials.append(material)
        return replace(first, mesh=mesh), Match(found.of, np.eye(3), np.zeros(3))


def _by_scale(objects: list[bpy.types.Object]) -> dict[tuple[float, ...], list[bpy.types.Object]]:
    """Objects by what a unit of their mesh's axes measures in the world, to a ten-thousandth."""
    found: dict[tuple[float, ...], list[bpy.types.Object]] = defaultdict(list)
    for obj in objects:
        scale = np.linalg.norm(np.array(obj.matrix_world)[:3, :3], axis=0)
        found[tuple(float(f"{each:.4g}") for each in scale)].append(obj)
    return found


def _tags(mesh: bpy.types.Mesh, form: Form) -> np.ndarray:
    """What tells meshes of one shape apart, a row a corner: material, colours, and the place on a print."""
    slots = [material.session_uid if material else 0 for material in mesh.materials] or [0]
    slot = np.clip(got(mesh.polygons, "material_index", 1, np.int32), 0, len(slots) - 1)
    columns = [np.repeat(np.array(slots)[slot], form.counts)]
    for attribute in mesh.color_attributes:
        values = np.rint(got(attribute.data, VALUES[attribute.data_type], 4, np.float32) / _STEP_COLOUR).astype(int)
        columns += list(values[form.corners].T if attribute.domain == "POINT" else values.T)
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
    pose[:3, :3] = np.diag(1.0 / seen.mm) @ before @ found.turn @ after @ np.diag(part.mm)
    pose[:3, 3] = before @ found.shift / seen.mm
    still = np.abs(pose[:3, :3] - np.eye(3)).max() < 1e-6 and np.abs(pose[:3, 3] * seen.mm).max() < 0.1 * NOISE_MM
    for obj in objects:
        if not still:
            moved = np.array(obj.matrix_basis, dtype=float) @ pose
            columns = moved[:3, :3] / np.maximum(np.linalg.norm(moved[:3, :3], axis=0), 1e-30)
            if np.abs(columns.T @ columns - np.eye(3)).max() > 1e-4:
                continue  # no object can be sheared
            obj.matrix_basis = Matrix(moved.tolist())
        obj.data = part.mesh
