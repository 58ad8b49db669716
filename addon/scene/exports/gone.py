"""Objects that go: what hangs on them stays where it is, and what held nothing else goes too."""

from collections import defaultdict

import bpy

from ...blender import meshes_of


def let_go(objects: list[bpy.types.Object]) -> None:
    """Removes objects whose pieces went elsewhere; an empty takes the place of one that others hang on, and one that
    held nothing else goes with them."""
    gone = set(objects)
    nodes = {obj.parent for obj in objects if obj.parent and obj.parent not in gone}
    left: dict[bpy.types.Object, list[bpy.types.Object]] = defaultdict(list)
    for child in bpy.data.objects if gone else ():  # each asked for its children would look at all objects anew
        if child.parent in gone and child not in gone:
            left[child.parent].append(child)
    for node in [obj.parent for obj in left]:  # one that is gone may hang on another
        while node in gone and node not in left:
            left[node], node = [], node.parent
    stands = {obj: bpy.data.objects.new(obj.name, None) for obj in left}
    for obj, stand in stands.items():
        for collection in obj.users_collection:
            collection.objects.link(stand)
        stand.parent = stands.get(obj.parent, obj.parent) if obj.parent else None
        stand.matrix_parent_inverse = obj.matrix_parent_inverse
        stand.matrix_basis = obj.matrix_basis
        for child in left[obj]:
            inverse = child.matrix_parent_inverse.copy()
            child.parent, child.matrix_parent_inverse = stand, inverse
    meshes = set(meshes_of(objects))
    bpy.data.batch_remove(objects)
    bpy.data.batch_remove([mesh for mesh in meshes if not mesh.users])
    while nodes:
        holding = {obj.parent for obj in bpy.data.objects}
        idle = [node for node in nodes if node.type == "EMPTY" and node not in holding]
        nodes = {node.parent for node in idle if node.parent}
        bpy.data.batch_remove(idle)
