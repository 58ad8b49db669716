"""A small wall of bricks, and how its bricks stand and are selected."""

import bpy
import numpy as np


def wall(courses: int = 4, length: int = 4) -> bpy.types.Collection:
    """Bricks of 2 x 4 studs in running bond, in metres as glTF brings them, sharing one mesh and one material."""
    boxes = [((-15.9, -7.9, 0.0), (15.9, 7.9, 9.6))]
    boxes += [
        ((x - 1.7, y - 1.7, 9.6), (x + 1.7, y + 1.7, 11.3)) for x in (-12.0, -4.0, 4.0, 12.0) for y in (-4.0, 4.0)
    ]
    corners, faces = [], []
    for low, high in boxes:
        at = len(corners)
        corners += [
            tuple(0.001 * (high, low)[bit][axis] for axis, bit in enumerate(bits)) for bits in np.ndindex(2, 2, 2)
        ]
        quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
        faces += [tuple(at + corner for corner in quad) for quad in quads]
    mesh = bpy.data.meshes.new("part.0001")
    mesh.from_pydata(corners, [], faces)
    mesh.materials.append(material := bpy.data.materials.new("sand"))
    if material.node_tree is None:
        material.use_nodes = True
    build = bpy.data.collections.new("wall")
    bpy.context.scene.collection.children.link(build)
    for course in range(courses):
        for number in range(length):
            brick = bpy.data.objects.new(f"brick.{course}.{number}", mesh)
            brick.location = (0.032 * number + 0.016 * (course % 2), 0.0, 0.0096 * course)
            build.objects.link(brick)
    bpy.context.view_layer.update()
    return build


def deltas() -> np.ndarray:
    objects = sorted(bpy.context.scene.objects, key=lambda thing: thing.name)
    return np.array([(*thing.delta_location, *thing.delta_rotation_euler) for thing in objects])


def selected(*names: str):
    return bpy.context.temp_override(selected_objects=[bpy.data.objects[name] for name in names])


def moved(before: np.ndarray) -> set[str]:
    names = sorted(thing.name for thing in bpy.context.scene.objects)
    return {name for name, a, b in zip(names, before, deltas(), strict=True) if not np.array_equal(a, b)}
