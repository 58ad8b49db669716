"""Instances of an export made objects: a collection's, a point instancer's, whatever Blender shows as one."""

from operator import attrgetter
from typing import cast

import bpy
import numpy as np
from mathutils import Matrix

from ...blender import context, mesh_of, meshes_of
from . import naming


def made_real(objects: list[bpy.types.Object]) -> list[bpy.types.Object]:
    """New objects, sharing their meshes, for what the objects of an export show as instances.

    Returns them with those that show a mesh themselves; what only serves as a model for instances is left out.
    """
    if not _are_any(objects):
        return bodies(objects)
    scene, own = context().scene, set(objects)
    shown = context().evaluated_depsgraph_get().object_instances
    real = []
    for instance in shown:
        thing = cast(bpy.types.Object, instance.object.original)
        if instance.is_instance and instance.parent.original in own and _is_body(thing):
            real.append((thing, np.array(instance.matrix_world)))
    models = {thing for thing, _ in real}
    digits = len(str(len(real)))
    made = []
    for number, (thing, matrix) in enumerate(real, 1):
        brick = bpy.data.objects.new(f"{naming.of(thing)}.{number:0{digits}d}", thing.data)
        scene.collection.objects.link(brick)
        brick.matrix_world = Matrix(matrix.tolist())
        made.append(brick)
    context().view_layer.update()
    return [obj for obj in objects if _is_body(obj) and obj not in models] + made


def bodies(objects: list[bpy.types.Object]) -> list[bpy.types.Object]:
    """Those of objects that show a mesh with faces themselves."""
    shown = list(meshes_of(objects))
    solid = {data for data in dict.fromkeys(shown) if isinstance(data, bpy.types.Mesh) and len(data.polygons)}
    return [obj for obj, data in zip(objects, shown, strict=True) if data in solid]


def _are_any(objects: list[bpy.types.Object]) -> bool:
    """Whether any of the objects shows instances."""
    if any(kind != "NONE" for kind in map(attrgetter("instance_type"), objects)):
        return True
    return any(one.type == "NODES" for modifiers in map(attrgetter("modifiers"), objects) for one in modifiers)


def _is_body(obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and len(mesh_of(obj).polygons) > 0
