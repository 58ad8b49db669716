"""Bricks whose turn went into their mesh get it back: formats without transforms, and joined meshes, write it there."""

from collections.abc import Generator, Iterable

import bpy
import numpy as np
from mathutils import Matrix

from ...blender import context, mesh_of
from ...core.build import bearing
from ...core.slices import is_over
from ..build.seen import vertices_and_triangles

_ALONG = 1 - 1e-9  # cosine from which axes are the same but for their order
_WALLS = 0.4  # of the surface beside its top: what has less is round
_EVEN = 1e-5  # of its scale: what an object's axes may differ by and still be turned without a shear


def laying(objects: Iterable[bpy.types.Object], turn: np.ndarray) -> Generator[None, None, None]:
    """Turns the meshes of objects, and the objects back: nothing moves in the world; in parts.

    They are laid along the build's axes, to which `turn` (3, 3) leads from the world's, or along their own where they
    lie askew in the build. What is animated or stretched, and what shares a mesh with such, stays as it is.
    """
    users: dict[bpy.types.Mesh, list[bpy.types.Object]] = {}
    for thing in objects:
        users.setdefault(mesh_of(thing), []).append(thing)
    back: dict[bpy.types.Object, Matrix] = {}
    for mesh, things in users.items():
        if is_over():
            yield
        if len(things) < mesh.users or not all(map(_may_be_turned, things)):
            continue
        own = _rotation(turn @ np.array(things[0].matrix_world.to_3x3()))
        points, triangles = vertices_and_triangles(mesh)
        own = bearing.bearing(points[triangles] @ own.T, _WALLS) @ own
        if np.abs(own).max(axis=1).min() > _ALONG:
            continue
        matrix = Matrix(own.tolist()).to_4x4()
        mesh.transform(matrix)
        back.update(dict.fromkeys(things, matrix))
    for thing, matrix in back.items():
        thing.matrix_basis = thing.matrix_basis @ matrix.inverted()
        if is_over():
            yield
    for child in bpy.data.objects if back else ():
        if child.parent in back:
            child.matrix_parent_inverse = back[child.parent] @ child.matrix_parent_inverse
    if back:
        context().view_layer.update()


def _rotation(linear: np.ndarray) -> np.ndarray:
    """The turn nearest to a linear map (3, 3), a mirrored one taken through the middle."""
    left, _, right = np.linalg.svd(linear)
    found = left @ right
    return found * np.sign(np.linalg.det(found))


def _may_be_turned(thing: bpy.types.Object) -> bool:
    size = list(map(abs, thing.scale.to_tuple()))  # of three numbers that takes no array
    most = max(size)
    return thing.animation_data is None and not mesh_of(thing).shape_keys and most - min(size) <= _EVEN * most
