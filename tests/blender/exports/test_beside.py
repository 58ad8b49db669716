"""What lies beside an export may be missing, and its folder and name may hold any letters, in every format.

COLLADA's pictures are in test_collada_materials.py. An address in glTF 2.0 (Khronos Group) is a URI, in the others a
plain path.
"""

import json
import struct
from pathlib import Path
from urllib.parse import quote

import bpy
import numpy as np
import pytest

from addon.core.errors import FileProblem
from addon.scene.exports import importers
from tests.blender.exports.test_hostile import CUBE, FACES, box
from tests.blender.exports.test_importers import PLACES, write

FOLDER, NAME, PICTURE = "Türme & Mauern 積木", "größe 1 %20 #2 (neu)", "Drück mich 塔.png"
KINDS = ("glb", "gltf", "obj of objects", "dae mm", "stl", "ply", "usda mm", "usdc", "usdz", "fbx")


def meshes(room):
    return [obj for obj in room.all_objects if obj.type == "MESH"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_folder_and_a_name_of_any_letters(kind, tmp_path):
    folder = tmp_path / FOLDER
    folder.mkdir()
    plain = write(kind, folder)
    path = plain.rename(plain.with_stem(NAME))
    room, _ = importers.bring(path)
    assert room.name == NAME
    assert len(meshes(room)) == len(PLACES)


def picture(path):
    image = bpy.data.images.new("print", 4, 4)
    image.pixels.foreach_set(np.tile([0.8, 0.1, 0.1, 1.0], 16).astype(np.float32))
    image.save(filepath=str(path))
    bpy.data.images.remove(image)


def gltf(path):
    tree = json.loads(box([{}]))
    tree["images"], tree["textures"] = [{"uri": quote(PICTURE)}], [{"source": 0}]
    tree["materials"] = [{"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}]
    tree["meshes"][0]["primitives"][0]["material"] = 0
    path.write_text(json.dumps(tree))


def glb(path):
    gltf(path)
    body = path.read_bytes()
    body += b" " * (-len(body) % 4)
    path.write_bytes(struct.pack("<4sIIII", b"glTF", 2, 20 + len(body), len(body), 0x4E4F534A) + body)


def obj(path):
    (path.parent / "Farben und 色.mtl").write_text(f"newmtl print\nmap_Kd {PICTURE}\n", encoding="utf-8")
    path.write_text("mtllib Farben und 色.mtl\n" + CUBE + "usemtl print\n" + FACES, encoding="utf-8")


def usda(path):
    points = [tuple(map(float, line.split()[1:])) for line in CUBE.splitlines()]
    corners = [int(word) - 1 for line in FACES.splitlines() for word in line.split()[1:]]
    path.write_text(
        f"""#usda 1.0
(
    metersPerUnit = 0.001
    upAxis = "Z"
)
def Mesh "brick" (prepend apiSchemas = ["MaterialBindingAPI"]) {{
    int[] faceVertexCounts = {[4] * 6}
    int[] faceVertexIndices = {corners}
    point3f[] points = {points}
    rel material:binding = </print>
}}
def Material "print" {{
    token outputs:surface.connect = </print/surface.outputs:surface>
    def Shader "surface" {{
        uniform token info:id = "UsdPreviewSurface"
        color3f inputs:diffuseColor.connect = </print/picture.outputs:rgb>
        token outputs:surface
    }}
    def Shader "picture" {{
        uniform token info:id = "UsdUVTexture"
        asset inputs:file = @./{PICTURE}@
        float3 outputs:rgb
    }}
}}""",
        encoding="utf-8",
    )


def fbx(path):
    bpy.ops.mesh.primitive_cube_add(size=0.016)
    cube = bpy.context.object
    material = bpy.data.materials.new("print")
    material.use_nodes = True
    nodes = material.node_tree.nodes
    shown = nodes.new("ShaderNodeTexImage")
    shown.image = bpy.data.images.load(str(path.parent / PICTURE))
    shader = next(node for node in nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    material.node_tree.links.new(shown.outputs["Color"], shader.inputs["Base Color"])
    cube.data.materials.append(material)
    bpy.ops.export_scene.fbx(filepath=str(path), path_mode="RELATIVE")
    bpy.data.batch_remove([cube.data, material, shown.image])


PRINTED = {"gltf": gltf, "glb": glb, "obj": obj, "usda": usda, "fbx": fbx}


@pytest.mark.parametrize("missing", [False, True])
@pytest.mark.parametrize("kind", PRINTED)
def test_a_picture_is_found_beside_the_file_or_missed_in_silence(kind, missing, tmp_path, capfd):
    folder = tmp_path / FOLDER
    folder.mkdir()
    picture(folder / PICTURE)
    path = folder / f"{NAME}.{kind}"
    PRINTED[kind](path)
    if missing:
        (folder / PICTURE).unlink()
    capfd.readouterr()
    room, _ = importers.bring(path)
    assert len(meshes(room)) == 1
    said = capfd.readouterr()
    assert (said.out, said.err) == ("", "")
    found = [image for image in bpy.data.images if image.packed_file or _is_there(image)]  # 5.0 has data of none too
    assert len(found) == (0 if missing else 1)


def _is_there(image):
    return Path(bpy.path.abspath(image.filepath)).is_file()


def test_a_missing_library_of_materials_leaves_the_bricks(tmp_path, capfd):
    (tmp_path / "a.obj").write_text("mtllib gone.mtl\n" + CUBE + "usemtl red\n" + FACES)
    assert len(meshes(importers.bring(tmp_path / "a.obj")[0])) == 1
    assert capfd.readouterr().err == ""


def test_a_missing_buffer_is_named(tmp_path):
    path = write("gltf", tmp_path)
    gone = next(tmp_path.glob("*.bin"))
    gone.unlink()
    with pytest.raises(FileProblem, match=gone.name):
        importers.bring(path)
