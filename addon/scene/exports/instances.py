"""Instances of an export made objects: a collection's, a point instancer's, whatever Blender shows as one."""

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
    if not any(map(_instances, objects)):
        meshes = dict.fromkeys(meshes_of(obj for obj in objects if obj.type == "MESH"))
        bodies = {mesh for mesh in meshes if len(mesh.polygons)}
        return [obj for obj in objects if obj.data in bodies]
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


def _instances(obj: bpy.types.Object) -> bool:
    if obj.instance_type != "NONE":
        return True
    return any(modifier.type == "NODES" for modifier in obj.modifiers)


def _is_body(obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and len(mesh_of(obj).polygons) > 0
