"""Files that no honest program writes: one sentence each, Blender lives, nothing stays behind.

How the importers really behave on 200 spoiled files a format is measured by bench/fuzz.py.
"""

import base64
import json
import subprocess
import sys
import time

import bpy
import numpy as np
import pytest
import trimesh

from addon import usecases
from addon.core import near
from addon.core.errors import Crowded, FileProblem
from addon.core.parts import assembly, solids
from addon.scene import files
from addon.scene.exports import fbx, importers, trial
from bench import crumbs, fbx_records

CUBE = "v 0 0 0\nv 16 0 0\nv 16 16 0\nv 0 16 0\nv 0 0 9.6\nv 16 0 9.6\nv 16 16 9.6\nv 0 16 9.6\n"
FACES = "f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n"
PLY = """ply
format ascii 1.0
element vertex 3
property float x
property float y
property float z
element face 1
property list uchar int vertex_indices
end_header
0 0 0
1 0 0
0 1 0
3 0 1 {corner}
"""
MESH = """def Mesh "m" {
    int[] faceVertexCounts = [3]
    int[] faceVertexIndices = [0, 1, 2]
    point3f[] points = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
}"""


def blocks():
    return {
        prop.identifier: sorted(block.name_full for block in getattr(bpy.data, prop.identifier))
        for prop in bpy.data.bl_rna.properties
        if prop.type == "COLLECTION"
    }


HOSTILE = {
    "one vertex": ("dot.obj", "v 1 2 3\nf 1 1 1\n"),
    "no vertex": ("none.obj", "o a\no b\n"),
    "no triangle": ("none.stl", "solid a\nendsolid a\n"),
    "glTF called ply": ("build.ply", '{"asset": {"version": "2.0"}}'),
    "corner that is not there": ("far.ply", PLY.format(corner=99_999_999)),
    "not a number": ("nan.obj", CUBE.replace("v 16 16 9.6", "v nan 16 9.6") + FACES),
    "infinite": ("inf.obj", CUBE.replace("v 16 16 9.6", "v inf 16 9.6") + FACES),
    "absurdly far": ("far.obj", CUBE.replace("v 16 16 9.6", "v 1e30 16 9.6") + FACES),
    "picture called glb": ("picture.glb", "\x89PNG\r\n\x1a\n" + "x" * 200),
    "obj called stl": ("build.stl", CUBE + FACES),
    "nodes that hold each other": (
        "ring.gltf",
        '{"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}],'
        ' "nodes": [{"children": [1]}, {"children": [0]}]}',
    ),
    "glTF's corner that is not there": (
        "corner.gltf",
        '{"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}], "meshes":'
        ' [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}], "accessors": [{"bufferView": 0,'
        ' "componentType": 5126, "count": 1, "type": "VEC3"}, {"bufferView": 0, "componentType": 5121, "count": 3,'
        ' "type": "SCALAR"}], "bufferViews": [{"buffer": 0, "byteLength": 12}], "buffers": [{"byteLength": 12,'
        ' "uri": "data:application/octet-stream;base64,/////////////w=="}]}',
    ),
    "buffer that is not there": (
        "gone.gltf",
        '{"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}], "meshes":'
        ' [{"primitives": [{"attributes": {"POSITION": 0}}]}], "accessors": [{"bufferView": 0, "componentType": 5126,'
        ' "count": 3, "type": "VEC3"}], "bufferViews": [{"buffer": 0, "byteLength": 36}], "buffers": [{"uri":'
        ' "gone.bin", "byteLength": 36}]}',
    ),
}


@pytest.mark.shared_out
@pytest.mark.parametrize("what", HOSTILE)
def test_one_sentence_and_nothing_left(what, tmp_path, capfd):
    name, text = HOSTILE[what]
    (tmp_path / name).write_text(text, encoding="latin-1")
    before, begun = blocks(), time.monotonic()
    with pytest.raises(FileProblem) as caught:
        importers.bring(tmp_path / name)
    assert name in str(caught.value)
    assert "\n" not in str(caught.value)
    assert "Traceback" not in str(caught.value)
    assert capfd.readouterr().err == ""
    assert blocks() == before
    assert time.monotonic() - begun < 60


def one_triangle(path):
    corners = [(0, 0, 0), (16, 0, 0), (0, 16, 0)]
    if path.suffix == ".usda":
        path.write_text("#usda 1.0\n" + MESH)
    elif path.suffix == ".fbx":
        mesh = bpy.data.meshes.new("triangle")
        mesh.from_pydata(corners, [], [(0, 1, 2)])
        bpy.context.scene.collection.objects.link(bpy.data.objects.new("triangle", mesh))
        bpy.ops.export_scene.fbx(filepath=str(path))
        bpy.data.batch_remove([mesh])
    else:
        written = trimesh.Trimesh(corners, [(0, 1, 2)], process=False).export(file_type=path.suffix[1:])
        written = {path.name: written} if not isinstance(written, dict) else written
        for name, data in written.items():
            data = data.encode() if isinstance(data, str) else data
            (path if name.endswith(path.suffix) else path.parent / name).write_bytes(data)


@pytest.mark.parametrize("kind", ["glb", "gltf", "obj", "stl", "ply", "dae", "usda", "fbx"])
@pytest.mark.usefixtures("extension")
def test_one_triangle_is_a_mesh_and_no_brick(kind, tmp_path):
    path = tmp_path / f"triangle.{kind}"
    one_triangle(path)
    found = usecases.inspect(usecases.bring_in(path))
    assert found.bricks == 0
    assert "no brick build" in found.warnings[0]
    assert [each.reason for each in found.left_out] == ["is flat, which no brick is"]


def test_objects_of_an_fbx_that_share_a_mesh_are_counted(tmp_path):
    """Or one that is deleted takes the mesh from the others, when the file is saved or right away."""
    path = tmp_path / "pair.fbx"
    bpy.ops.mesh.primitive_cube_add(size=0.016)
    first = bpy.context.object
    others = [first.copy() for _ in range(3)]
    material = bpy.data.materials.new("red")
    first.data.materials.append(material)
    for number, other in enumerate(others, 1):
        other.location.x = 0.016 * number
        bpy.context.scene.collection.objects.link(other)
    bpy.ops.export_scene.fbx(filepath=str(path))
    files.new()
    fbx.load(path)
    (mesh,) = bpy.data.meshes
    assert mesh.users == len(bpy.data.objects) == 4
    assert all(obj.material_slots[0].material.name == "red" for obj in bpy.data.objects)
    for obj in list(bpy.data.objects)[:3]:
        bpy.data.objects.remove(obj)
    assert mesh.users == 1


def test_a_gltf_that_fails_leaves_later_ones_quiet(tmp_path, capfd):
    """Python's logging says "Logging error" on standard error where a handler's stream is closed."""
    name, text = HOSTILE["buffer that is not there"]
    (tmp_path / name).write_text(text)
    for _ in range(3):
        with pytest.raises(FileProblem):
            importers.bring(tmp_path / name)
    assert "Logging error" not in capfd.readouterr().err


def test_a_prim_that_refers_to_itself_ends(tmp_path):
    """USD refuses cyclic references by its own rules; what is left of the file is read."""
    path = tmp_path / "ring.usda"
    path.write_text('#usda 1.0\ndef Xform "a" (references = </b>) {}\ndef Xform "b" (references = </a>) {}\n' + MESH)
    begun = time.monotonic()
    assert importers.bring(path)
    assert time.monotonic() - begun < 60


def test_a_child_that_dies_is_a_sentence(tmp_path, monkeypatch):
    path = tmp_path / "a.usda"
    path.write_text("#usda 1.0\n" + MESH)
    dying = [sys.executable, "-c", "import os; os.kill(os.getpid(), 11)" if sys.platform != "win32" else "exit(139)"]
    monkeypatch.setattr(trial, "asked", lambda path, stand: iter(()))  # and no one says that it is whole
    monkeypatch.setattr(trial, "_command", lambda path: dying)
    with pytest.raises(FileProblem, match="crashed"):
        importers.bring(path)


def test_a_child_that_finds_no_end_or_is_given_up_is_ended(tmp_path, monkeypatch):
    path = tmp_path / "a.usda"
    path.write_text("#usda 1.0\n" + MESH)
    begun = []
    start = subprocess.Popen
    monkeypatch.setattr(trial, "START_S", 0.3)
    monkeypatch.setattr(trial, "asked", lambda path, stand: iter(()))  # and no one says that it is whole
    monkeypatch.setattr(trial, "_command", lambda path: [sys.executable, "-c", "while True: pass"])
    monkeypatch.setattr(
        subprocess, "Popen", lambda *args, **options: begun.append(start(*args, **options)) or begun[-1]
    )
    with pytest.raises(FileProblem, match="not done"):
        importers.bring(path)
    assert begun[0].returncode is not None

    monkeypatch.setattr(trial, "START_S", 60.0)
    trying = importers.trying(path)
    next(trying)
    assert begun[1].poll() is None
    trying.close()
    assert begun[1].returncode is not None


def test_what_is_too_much_to_take_apart_stays_whole_in_one_sentence(tmp_path, monkeypatch):
    path = tmp_path / "crumbs.stl"
    path.write_bytes(crumbs.stl(*crumbs.crumbs(300, single=False)))
    for bound in ("MOST_SHELLS", "MOST_BRICKS"):
        with monkeypatch.context() as patched:
            patched.setattr(assembly, bound, 100)
            room, found = importers.bring(path)
        assert [len(obj.data.polygons) for obj in room.all_objects if obj.type == "MESH"] == [1200]
        assert any("300 loose pieces" in line for line in found.warnings)


def test_what_is_crowded_in_one_place_is_one_sentence(monkeypatch):
    monkeypatch.setattr(near, "_MOST_LOOKS", 1000)
    with pytest.raises(Crowded, match="100 objects lie within"):
        near.near_pairs(np.zeros((100, 3)), np.ones((100, 3)), 0.0)


def test_objects_scaled_to_nothing_are_left_out_and_told(tmp_path):
    """Wavefront OBJ knows no scale, glTF 2.0 (Khronos Group) allows 0 in a node's."""
    nodes = [{}, {"translation": [0.016, 0, 0]}, {"scale": [0, 0, 0]}, {"scale": [1, 0, 1], "translation": [0, 0.1, 0]}]
    (tmp_path / "box.gltf").write_text(box(nodes))
    room, found = importers.bring(tmp_path / "box.gltf")
    assert sum(obj.type == "MESH" for obj in room.all_objects) == 2
    assert "2 of 4 objects are scaled to nothing and left out." in found.warnings
    (tmp_path / "nothing.gltf").write_text(box([{"scale": [0, 0, 0]}]))
    with pytest.raises(FileProblem, match="no mesh"):
        importers.bring(tmp_path / "nothing.gltf")


def box(nodes):
    """A glTF of boxes 16 by 16 by 9.6 mm, one a node."""
    points = np.array(list(np.ndindex(2, 2, 2)), dtype="<f4") * np.float32([0.016, 0.0096, 0.016])
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    corners = np.array([(a, b, c, a, c, d) for a, b, c, d in sides], dtype="<u2")
    data = points.tobytes() + corners.tobytes()
    return json.dumps(
        {
            "asset": {"version": "2.0"},
            "scene": 0,
            "scenes": [{"nodes": list(range(len(nodes)))}],
            "nodes": [{"mesh": 0, **node} for node in nodes],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
            "accessors": [
                {"bufferView": 0, "componentType": 5126, "count": 8, "type": "VEC3",
                 "min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist()},
                {"bufferView": 1, "componentType": 5123, "count": corners.size, "type": "SCALAR"},
            ],
            "bufferViews": [
                {"buffer": 0, "byteLength": points.nbytes},
                {"buffer": 0, "byteOffset": points.nbytes, "byteLength": corners.nbytes},
            ],
            "buffers": [
                {"byteLength": len(data),
                 "uri": "data:application/octet-stream;base64," + base64.b64encode(data).decode()}
            ],
        }
    )  # fmt: skip


def with_fbx(path):
    """As Blender's own exporter writes it; its records in pieces, as Blender Foundation describes them (2013)."""
    bpy.ops.mesh.primitive_cube_add(size=0.016)
    bpy.context.object.data.uv_layers[0].name = "st"
    bpy.ops.export_scene.fbx(filepath=str(path))
    files.new()
    return path.read_bytes()


def geometry(records):
    (objects,) = (each for each in records if each.name == b"Objects")
    return next(each for each in objects.inner if each.name == b"Geometry")


def inner(record, *names):
    for name in names:
        record = next(each for each in record.inner if each.name == name)
    return record


FBX = {
    "whole": (lambda shape: None, True),
    "corner that is not there": (lambda shape: spoil(inner(shape, b"PolygonVertexIndex"), -8, 99), False),
    "list that ends early": (lambda shape: spoil(inner(shape, b"Vertices"), None, None), False),
    "number that leads nowhere": (lambda shape: spoil(inner(shape, b"LayerElementUV", b"UVIndex"), 4, 500), False),
    "name that 4.5 dies of": (lambda shape: rename(inner(shape, b"LayerElementUV", b"Name"), b"s" * 200), False),
    "name of Blender's own list": (lambda shape: rename(inner(shape, b"LayerElementUV", b"Name"), b"position"), False),
}


def spoil(record, at, number):
    ((letter, raw),) = record.values
    raw = raw[:-4] if at is None else raw[:at] + number.to_bytes(4, "little") + raw[at:][4:]
    record.values[:] = [(letter, raw)]


def rename(record, name):
    record.values[:] = [(b"S", name)]


@pytest.mark.parametrize("what", FBX)
def test_only_an_fbx_that_is_whole_is_not_tried(what, tmp_path, monkeypatch):
    data = with_fbx(tmp_path / "cube.fbx")
    records = fbx_records.read(data)
    change, is_whole = FBX[what]
    change(geometry(records))
    (tmp_path / "cube.fbx").write_bytes(fbx_records.written(data, records))
    tried = []
    monkeypatch.setattr(trial, "survive", lambda path, name: tried.append(name) or iter(()))
    list(importers.trying(tmp_path / "cube.fbx"))
    assert tried == ([] if is_whole else ["FBX"])


def test_only_a_ply_that_is_whole_is_not_tried(tmp_path, monkeypatch):
    box = trimesh.creation.box((16, 16, 9.6))
    data = box.export(file_type="ply")
    far = data[:-4] + (99).to_bytes(4, "little")
    tried = []
    monkeypatch.setattr(trial, "survive", lambda path, name: tried.append(path.stem) or iter(()))
    for name, each in {"whole": data, "cut": data[:-1], "far": far, "more": data + b"1234"}.items():
        (tmp_path / f"{name}.ply").write_bytes(each)
        list(importers.trying(tmp_path / f"{name}.ply"))
    assert tried == ["cut", "far", "more"]
    room, _ = importers.bring(tmp_path / "whole.ply")
    assert [len(obj.data.polygons) for obj in room.all_objects if obj.type == "MESH"] == [12]


@pytest.mark.shared_out
@pytest.mark.parametrize("kind", ["stl", "ply", "obj"])
@pytest.mark.parametrize("single", [True, False])
def test_a_heap_of_pieces_of_any_shape_ends_in_a_sentence(kind, single, tmp_path):
    """A smaller cousin of the million that `bench/crumbs.py` writes."""
    points, sides = crumbs.crumbs(600, single)
    path = tmp_path / f"heap.{kind}"
    path.write_bytes(getattr(crumbs, kind)(crumbs.randomly(points, np.random.default_rng(0)), sides))
    begun = time.process_time()
    room, found = importers.bring(path)
    assert sum(obj.type == "MESH" for obj in room.all_objects) == 1
    assert any("No scale" in line for line in found.warnings)
    assert time.process_time() - begun < 60


def test_axes_of_shells_without_number_are_not_looked_for(monkeypatch):
    corners = np.random.default_rng(0).normal(size=(40, 3, 3))
    starts = np.arange(0, 40, 4)
    looked_for = solids.Solids.of(corners, starts)
    monkeypatch.setattr(solids, "_MOST", 3)
    plain = solids.Solids.of(corners, starts)
    assert not np.allclose(looked_for.size, plain.size)
    assert np.array_equal(plain.size, plain.boxes.high - plain.boxes.low)
