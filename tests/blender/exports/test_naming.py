"""What comes in under passing names has the names that Blender's own importer gives at the end."""

import sys

import bpy
import numpy as np
import trimesh

from addon.core.remembered import number
from addon.scene import files
from addon.scene.exports import gltf, naming

NAMES = ["plate 10", "brick 2", "Brick 1", "arch", "brick 2.001", "zebra", "ä", "plate 9"]


def written(path):
    """Boxes, two to a mesh, in no order of their names."""
    scene, kinds = trimesh.Scene(), [trimesh.creation.box((2.0, 1.0, n + 1.0)) for n in range(4)]
    for n, name in enumerate(NAMES):
        pose = np.eye(4)
        pose[0, 3] = 3.0 * n
        scene.add_geometry(kinds[n % 4], node_name=name, geom_name=f"kind {9 - n % 4}", transform=pose)
    path.write_bytes(scene.export(file_type="glb"))
    return path


def stands():
    return {thing.name: (thing.data and thing.data.name, tuple(thing.location)) for thing in bpy.data.objects}


def test_names_are_those_of_the_bare_importer(tmp_path):
    path = written(tmp_path / "boxes.glb")
    bpy.data.objects.new("brick 2", None)
    bpy.ops.import_scene.gltf(filepath=str(path))
    bare = stands()
    files.new()
    bpy.data.objects.new("brick 2", None)
    gltf.load(path)
    assert stands() == bare
    assert not hasattr(sys.modules["io_scene_gltf2"], "glTF2ImportUserExtension")


def test_names_can_be_put_off(tmp_path):
    path = written(tmp_path / "boxes.glb")
    gltf.load(path)
    meshes = set(bpy.data.meshes.keys())
    files.new()
    gltf.load_unnamed(path)
    boxes = [thing for thing in bpy.data.objects if thing.type == "MESH"]
    assert sorted(map(naming.of, boxes)) == sorted(NAMES)
    assert min(thing.name for thing in boxes) > max(NAMES[:6])
    naming.named([*boxes, *{thing.data for thing in boxes}])
    assert {thing.name for thing in boxes} == set(NAMES)
    assert {thing.data.name for thing in boxes} == meshes
    assert not any(naming.NAMED in block for thing in boxes for block in (thing, thing.data))


def test_a_number_is_worked_out_once():
    asked = []
    for _ in range(2):
        assert number(b"a test of numbers", lambda: asked.append(1) or 0.25) == 0.25
    assert len(asked) == 1
