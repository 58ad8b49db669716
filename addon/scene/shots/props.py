"""What stands in a scene beside the bricks of a build and hides them from a camera."""

from collections.abc import Iterator

import bpy
import numpy as np

from ...blender import context, inputs_of
from ..build.build import Build, into_build

_SOLID = {"MESH", "CURVE", "SURFACE", "FONT", "META"}
_CLEAR = {"BSDF_TRANSPARENT", "BSDF_GLASS", "BSDF_REFRACTION"}


def faces(build: Build) -> tuple[np.ndarray, np.ndarray]:
    """Corners (V, 3) in the build's mm and triangles (T, 3) of all that renders, is no brick and is not seen through,
    as it is on the current frame."""
    bricks, world = set(build.objects), into_build(build)
    corners, triangles, start = [np.zeros((0, 3))], [np.zeros((0, 3), np.int64)], 0
    for thing, matrix in _things(bricks):
        mesh = thing.to_mesh()
        if mesh is None:
            continue
        mesh.calc_loop_triangles()
        places = np.empty(3 * len(mesh.vertices), np.float32)
        mesh.vertices.foreach_get("co", places)
        three = np.empty(3 * len(mesh.loop_triangles), np.int32)
        mesh.loop_triangles.foreach_get("vertices", three)
        thing.to_mesh_clear()
        into = world @ matrix
        corners.append(places.reshape(-1, 3).astype(np.float64) @ into[:3, :3].T + into[:3, 3])
        triangles.append(three.reshape(-1, 3).astype(np.int64) + start)
        start += len(corners[-1])
    return np.concatenate(corners), np.concatenate(triangles)


def may_move(build: Build, scene: bpy.types.Scene) -> bool:
    """Whether something beside the bricks may stand elsewhere on another frame."""
    bricks = set(build.objects)
    return any(
        thing.animation_data or thing.constraints or thing.parent or thing.rigid_body or thing.modifiers
        for thing in scene.objects
        if thing.type in _SOLID and thing not in bricks
    )


def _things(bricks: set[bpy.types.Object]) -> Iterator[tuple[bpy.types.Object, np.ndarray]]:
    """Objects and instances as they are evaluated, with their places in the world."""
    for instance in context().evaluated_depsgraph_get().object_instances:
        thing = instance.object
        if thing is None or thing.type not in _SOLID or not instance.show_self:
            continue
        own = thing.original
        if (own in bricks and not instance.is_instance) or own.hide_render or not own.visible_camera:
            continue
        materials = [slot.material for slot in own.material_slots if slot.material]
        if materials and all(map(_is_clear, materials)):
            continue
        yield thing, np.array(instance.matrix_world, dtype=np.float64)


def _is_clear(material: bpy.types.Material) -> bool:
    """Whether a material lets see through it: by a shader that does, or by having none for its surface."""
    tree = material.node_tree
    if tree is None:
        return False
    ends = [node for node in tree.nodes if node.bl_idname == "ShaderNodeOutputMaterial"]
    if ends and not any(inputs_of(node)["Surface"].is_linked for node in ends):
        return True
    return any(node.type in _CLEAR or (node.type == "BSDF_PRINCIPLED" and _lets_through(node)) for node in tree.nodes)


def _lets_through(node: bpy.types.Node) -> bool:
    inputs = inputs_of(node)
    alpha, transmission = inputs["Alpha"], inputs["Transmission Weight"]
    return alpha.is_linked or alpha.default_value < 1.0 or transmission.is_linked or transmission.default_value > 0.5
