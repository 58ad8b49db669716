"""Builds to begin with, put together by hand: as stood in Blender, not as an importer of ours leaves them."""

from collections.abc import Callable
from dataclasses import replace

import bpy
import numpy as np
from mathutils import Matrix

from addon import compat
from addon.scene import files
from bench.ways import layouts, workshop
from bench.ways.graph import Graph, Node
from bench.ways.parts import PITCH, Style, X

PITCH_OF = "pitch"  # on the scene: how long a stud's pitch is in its units
STYLE = Style(facets=8)
GROUND = 4  # bricks
SHELLS = Style(facets=8, fused=False)


def _bricks(count: int) -> list[workshop.Placed]:
    """A workshop without its ground, whose many studs take long and show nothing that others do not."""
    return workshop.workshop(count + GROUND)[GROUND:]


def pitch() -> float:
    return bpy.context.scene[PITCH_OF]


def shared(count: int) -> None:
    """Bricks that share their meshes, in metres, each colour with nodes."""
    _stand(layouts.shared(_bricks(count), STYLE), 1e-3)


def mirrored(count: int) -> None:
    """Every second brick mirrored, in units of a millimetre; every second material without nodes where there are."""
    room = _stand(layouts.mirrored(_bricks(count), STYLE), 1.0)
    bpy.context.scene.unit_settings.scale_length = 1e-3
    for material in list(bpy.data.materials)[::2]:
        material.use_nodes = False
    room.objects[1].data.materials.clear()


def nested(count: int) -> None:
    """Bricks under empties under empties, turned, moved and scaled down and up again."""
    _stand(layouts.nested(_bricks(count), STYLE, scale=2.0, depth=2), 1e-3)


def copied(count: int) -> None:
    """A mesh for each brick, some with shells apart; slots of the bricks' own, some empty; two with two materials."""
    room = _stand(layouts.copied(_bricks(count), SHELLS), 1e-3)
    things = list(room.objects)
    for thing in things[::3]:
        slot = thing.material_slots[0]
        slot.link = "OBJECT"
        slot.material = bpy.data.materials["rust"]
    things[4].material_slots[0].material = None
    things[3].material_slots[0].material = None
    for thing in things[1:3]:
        thing.data.materials.append(bpy.data.materials["cream"])
        half = np.arange(len(thing.data.polygons)) % 2
        thing.data.polygons.foreach_set("material_index", half.astype(np.int32))


def sideways(count: int) -> None:
    """The whole build lies on its side under an empty; bricks turned by quaternions, some with deltas of their own."""
    over = workshop.about(X, 90)
    lying = [replace(b, turn=over @ b.turn, at=over @ b.at) for b in _bricks(count)]
    room = _stand(layouts.shared(lying, STYLE), 1e-3)
    root = bpy.data.objects.new("root", None)
    bpy.context.scene.collection.objects.link(root)
    root.location, root.rotation_euler = (0.1, -0.2, 0.05), (0.0, 0.0, 0.4)
    for n, thing in enumerate(room.objects):
        thing.parent = root
        thing.rotation_mode = ("QUATERNION", "XYZ", "ZYX")[n % 3]
        thing.delta_location.z = 0.002 * (n % 4 == 1)
        thing.delta_rotation_euler.x = 0.1 * (n % 4 == 3)


BUILDS: dict[str, Callable[[int], None]] = {
    build.__name__: build for build in (shared, mirrored, nested, copied, sideways)
}


def begin(name: str, count: int) -> None:
    """An empty file with a build in it, and a camera with two markers."""
    files.new()
    BUILDS[name](count)
    scene = bpy.context.scene
    other = bpy.data.collections.new("other")
    scene.collection.children.link(other)
    table = bpy.data.objects.new("table", None)
    other.objects.link(table)
    table.location, table.rotation_euler = (5 * pitch(), 2 * pitch(), 0.0), (0.3, 0.0, 0.7)
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    other.objects.link(camera)
    camera.location = (8 * pitch(), -60 * pitch(), 20 * pitch())
    camera.rotation_euler.x = 1.4
    scene.camera = camera
    for name_, frame in (("wide", 1), ("close", 40)):
        scene.timeline_markers.new(name_, frame=frame).camera = camera
    bpy.context.view_layer.update()


def _stand(graph: Graph, unit: float) -> bpy.types.Collection:
    """Puts a graph into the scene as objects, `unit` of its units a millimetre."""
    bpy.context.scene[PITCH_OF] = PITCH * unit
    room = bpy.data.collections.new("build")
    bpy.context.scene.collection.children.link(room)
    materials = [_material(name, colour) for name, colour in workshop.COLOURS.items()]
    meshes: dict[int, bpy.types.Mesh] = {}
    for node in graph.nodes:
        _put(node, None, room, graph, meshes, materials, unit)
    return room


def _put(node: Node, parent, room, graph, meshes, materials, unit) -> None:
    mesh = None
    if node.mesh is not None:
        mesh = meshes.get(node.mesh)
        if mesh is None:
            mesh = meshes[node.mesh] = _mesh(graph.meshes[node.mesh], materials, unit)
    thing = bpy.data.objects.new(node.name, mesh)
    room.objects.link(thing)
    thing.parent = parent
    matrix = node.matrix.copy()
    matrix[:3, 3] *= unit
    thing.matrix_basis = Matrix(matrix.tolist())
    for child in node.children:
        _put(child, thing, room, graph, meshes, materials, unit)


def _mesh(source, materials, unit) -> bpy.types.Mesh:
    mesh = bpy.data.meshes.new(source.name)
    mesh.from_pydata((source.vertices * unit).tolist(), [], source.triangles.tolist())
    colours, number = np.unique(source.colour, return_inverse=True)
    for colour in colours:
        mesh.materials.append(materials[colour])
    mesh.polygons.foreach_set("material_index", number.astype(np.int32).reshape(-1))
    if source.uv is not None:
        layer = mesh.uv_layers.new(name="print")
        layer.uv.foreach_set("vector", source.uv[source.triangles.reshape(-1)].astype(np.float32).ravel())
    return mesh


def _material(name: str, colour) -> bpy.types.Material:
    made = bpy.data.materials.new(name)
    tree = compat.node_tree(made)
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs["Base Color"].default_value = colour
    made.diffuse_color = colour
    return made
