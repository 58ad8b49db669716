"""Bricks of one part share one mesh, however often and however turned the export wrote it."""

from collections import defaultdict

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
    parts, shown = Parts(), []  # of each part the mesh and whether it is seen mirrored
    for (mesh, mirrored), showing in by_mesh.items():
        if len(mesh.vertices) > _PLACES or mesh.shape_keys:
            continue
        for scale, alike in _by_scale(showing).items():
            found = parts.match(_shape(mesh, mirrored, np.array(scale) * mm_per_unit))
            if found.of == len(shown):
                shown.append((mesh, mirrored, scale))
            elif shown[found.of][0] != mesh:
                _show(alike, found, np.array(scale) * mm_per_unit, mirrored, *shown[found.of], mm_per_unit)
    gone = [mesh for mesh in before if not mesh.users]
    bpy.data.batch_remove(gone)
    bpy.context.view_layer.update()
    return len(gone)


def _by_scale(objects: list[bpy.types.Object]) -> dict[tuple[float, ...], list[bpy.types.Object]]:
    """Objects by what a unit of their mesh's axes measures in the world, to a ten-thousandth."""
    found: dict[tuple[float, ...], list[bpy.types.Object]] = defaultdict(list)
    for obj in objects:
        scale = np.linalg.norm(np.array(obj.matrix_world)[:3, :3], axis=0)
        found[tuple(float(f"{each:.4g}") for each in scale)].append(obj)
    return found


def _shape(mesh: bpy.types.Mesh, mirrored: bool, mm: np.ndarray) -> Shape:
    form = Form.of(mesh)
    points = form.points * mm
    return Shape(points @ _MIRROR if mirrored else points, form.corners, form.counts, _tags(mesh, form))


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


def _show(alike, found: Match, mm, mirrored: bool, mesh, mesh_mirrored: bool, mesh_scale, mm_per_unit: float) -> None:
    """Lets objects show the mesh of their part: turned, shifted and scaled so that each stands where it did."""
    theirs = np.array(mesh_scale) * mm_per_unit
    before, after = (_MIRROR if each else np.eye(3) for each in (mirrored, mesh_mirrored))
    pose = np.eye(4)
    pose[:3, :3] = np.diag(1.0 / mm) @ before @ found.turn @ after @ np.diag(theirs)
    pose[:3, 3] = before @ found.shift / mm
    still = np.abs(pose[:3, :3] - np.eye(3)).max() < 1e-6 and np.abs(pose[:3, 3] * mm).max() < 0.1 * NOISE_MM
    for obj in alike:
        if not still:
            moved = np.array(obj.matrix_basis, dtype=float) @ pose
            columns = moved[:3, :3] / np.maximum(np.linalg.norm(moved[:3, :3], axis=0), 1e-30)
            if np.abs(columns.T @ columns - np.eye(3)).max() > 1e-4:
                continue  # no object can be sheared
            obj.matrix_basis = Matrix(moved.tolist())
        obj.data = mesh
