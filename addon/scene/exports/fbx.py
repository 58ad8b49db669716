"""FBX."""

from collections import defaultdict
from pathlib import Path

import bpy

from ...blender import meshes_of
from ...core.exports import fbx, fbx_whole
from ...core.exports.stated import Stated
from ..attempt import attempt
from . import fbx_materials


def load(path: Path) -> None:
    """Reads the file into the scene."""
    with attempt() as made:
        bpy.ops.wm.fbx_import(filepath=str(path), use_anim=False)
        objects = made.objects()
        _count_users(objects)
        fbx_materials.put_back(path, objects, made.materials())


def _count_users(objects: list[bpy.types.Object]) -> None:
    """Blender's reader counts one user of a mesh that objects share; with one of them gone, it would be deleted under
    the others. Of a copy in its place each object is counted."""
    sharing: dict[bpy.types.Mesh, list[bpy.types.Object]] = defaultdict(list)
    for obj, data in zip(objects, meshes_of(objects), strict=True):
        if isinstance(data, bpy.types.Mesh):
            sharing[data].append(obj)
    miscounted = [mesh for mesh, users in sharing.items() if mesh.users < len(users)]
    copies = [
        (mesh.name, mesh.copy()) for mesh in miscounted
    ]  # as many materials: objects keep what they say of theirs
    for mesh, (_, copy) in zip(miscounted, copies, strict=True):
        for obj in sharing[mesh]:
            obj.data = copy
    bpy.data.batch_remove(miscounted)  # each by itself would be looked for in all objects
    for name, copy in copies:
        copy.name = name


def stated(path: Path) -> Stated:
    """What each material states."""
    return fbx.stated(path.read_bytes())


def is_whole(path: Path) -> bool:
    """Whether the file is nothing but meshes, and whole."""
    return fbx_whole.is_whole(path.read_bytes())
