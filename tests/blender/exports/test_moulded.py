"""What an export leaves unsaid becomes moulded plastic, what it states stays, in every format; and it is told.

Writers other than the readers under test: trimesh (glTF), text after the formats' own documents (OBJ and its .mtl, USD,
PLY), and, there being no other, the record writer of Blender's FBX exporter.
"""

import json

import bpy
import numpy as np
import pytest
import trimesh
from trimesh.visual.material import PBRMaterial

from addon import compat, usecases
from addon.core.exports import fbx
from addon.core.wear.kinds import METALLIC, MOULDED, OPAQUE, RUBBER, TRANSPARENT
from addon.nodes.plain import plain
from addon.scene import files
from addon.scene.build import told
from addon.scene.exports import formats, importers
from tests.blender.exports.test_importers import build_scene, from_blender, objects_text, one_mesh, usda

NEW = (MOULDED[OPAQUE].roughness, 0.0, MOULDED[OPAQUE].index_of_refraction, 0.0, 0.5)
UNSAID = "Not stated by the export and taken from moulded plastic"


def values():
    """Roughness, metal, index, transmission and specular of the build's materials by their names."""
    names = ("Roughness", "Metallic", "IOR", "Transmission Weight", "Specular IOR Level")
    return {
        one.name: tuple(round(principled(one).inputs[name].default_value, 4) for name in names)
        for one in bpy.data.materials
    }


def principled(material):
    return next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")


def written_gltf(path, *materials):
    """The small build in these glTF materials, one after another; None for a mesh without."""
    scene = build_scene(0.001)
    for mesh in scene.geometry.values():
        mesh.visual = trimesh.visual.TextureVisuals(material=PBRMaterial(name="placeholder"))
    document, files = {}, scene.export(file_type="gltf")
    for name, data in files.items():
        if name.endswith(".gltf"):
            document = json.loads(data)
        else:
            (path.parent / name).write_bytes(data)
    document["materials"] = [each for each in materials if each is not None]
    numbers = iter(range(len(document["materials"])))
    for mesh, each in zip(document["meshes"], materials, strict=False):
        for part in mesh["primitives"]:
            part.pop("material", None)
            if each is not None:
                part["material"] = next(numbers)
    document["extensionsUsed"] = sorted({name for each in materials if each for name in each.get("extensions", {})})
    path.write_text(json.dumps(document))
    return path


def colour(**others):
    return {"baseColorFactor": [0.5, 0.0, 0.0, 1.0], **others}


def test_a_gltf_that_says_nothing_of_its_surfaces_is_moulded_plastic(tmp_path, extension):
    path = written_gltf(
        tmp_path / "build.gltf", {"name": "red", "pbrMetallicRoughness": colour()}, {"name": "bare"}, {}
    )
    build, found = importers.bring(path)
    assert set(values()) == {"red", "bare", "Material_2"}
    assert set(values().values()) == {NEW}
    assert told.of(build) == (f"{UNSAID}: gloss, metal and refraction of all 3 materials.",)
    assert told.of(build) == found.warnings[-1:]
    assert set(told.of(build)) <= set(usecases.inspect(build).warnings)


def test_what_a_gltf_states_is_kept_and_the_kind_follows_from_it_alone(tmp_path):
    path = written_gltf(
        tmp_path / "build.gltf",
        {"name": "lacquer", "pbrMetallicRoughness": colour(metallicFactor=1.0)},
        {"name": "matt", "pbrMetallicRoughness": colour(roughnessFactor=0.9)},
        {
            "name": "glass",
            "extensions": {
                "KHR_materials_transmission": {"transmissionFactor": 1.0},
                "KHR_materials_ior": {"ior": 1.4},
            },
        },
    )
    build, _ = importers.bring(path)
    assert values() == {
        "lacquer": (MOULDED[METALLIC].roughness, 1.0, MOULDED[METALLIC].index_of_refraction, 0.0, 0.5),
        "matt": (0.9, 0.0, MOULDED[RUBBER].index_of_refraction, 0.0, 0.5),
        "glass": (MOULDED[TRANSPARENT].roughness, 0.0, 1.4, 1.0, 0.5),
    }
    assert told.of(build) == (f"{UNSAID}: gloss, metal and refraction of 2 of 3 materials.",)


def test_a_glb_is_read_by_its_json_alone_and_in_a_scene_whose_names_are_taken(tmp_path):
    path = tmp_path / "build.glb"
    scene = build_scene(0.001)
    for mesh in scene.geometry.values():
        mesh.visual = trimesh.visual.TextureVisuals(
            material=PBRMaterial(name="red", baseColorFactor=[255, 0, 0, 255], roughnessFactor=0.3)
        )
    path.write_bytes(scene.export(file_type="glb"))
    assert set(formats.of(path).stated(path).values()) == {frozenset({"roughness"})}
    compat.node_tree(bpy.data.materials.new("red"))
    importers.bring(path)
    came = [one for one in bpy.data.materials if one.name != "red"]
    assert came
    for material in came:
        assert values()[material.name] == pytest.approx((0.3, 0.0, 1.54, 0.0, 0.5))


def test_a_build_stated_all_metal_or_all_matt_is_left_so_and_told(tmp_path):
    rough_metal = {"pbrMetallicRoughness": colour(metallicFactor=1.0, roughnessFactor=1.0)}
    build, _ = importers.bring(written_gltf(tmp_path / "build.gltf", *[{"name": n} | rough_metal for n in "abc"]))
    assert {each[:2] for each in values().values()} == {(1.0, 1.0)}
    metal, matt = told.of(build)[-2:]
    assert metal.startswith("Metal by the export: all 3 materials.")
    assert matt.startswith("Matt by the export: all 3 materials, roughness 1 or more.")


def test_a_scene_in_which_all_is_metal_is_told_by_inspect_though_nothing_was_brought_in(tmp_path, extension):
    path = written_gltf(tmp_path / "build.gltf", *[{"name": n, "pbrMetallicRoughness": colour()} for n in "abc"])
    bpy.ops.import_scene.gltf(filepath=str(path))  # as an artist does by hand
    build = usecases.builds(bpy.context.scene)[0]
    assert told.of(build) == ()
    warnings = usecases.inspect(build).warnings
    assert any(line.startswith("Metal by the scene: all 3 materials.") for line in warnings)
    usecases.apply(build, usecases.find_preset("fresh"), usecases.Dials())
    assert any(line.startswith("Metal by the scene: all 3 materials.") for line in usecases.inspect(build).warnings)


def written_obj(path, library):
    lines = objects_text().splitlines()
    coloured = [line if not line.startswith("o ") else f"{line}\nusemtl bright red" for line in lines]
    path.write_text("mtllib my bricks.mtl\n" + "\n".join(coloured) + "\n")
    (path.parent / "my bricks.mtl").write_text(library)
    return path


@pytest.mark.parametrize("illum", [0, 1, 2, 3, 4, 5, 6, 7, 9])
def test_an_obj_whose_library_says_nothing_but_an_illumination_model_is_moulded_plastic(illum, tmp_path):
    path = written_obj(tmp_path / "build.obj", f"newmtl bright red\nKa 1 1 1\nKd 0.8 0 0\nKs 0 0 0\nillum {illum}\n")
    build, _ = importers.bring(path)
    assert values() == {"bright red": NEW}
    assert told.of(build) == (f"{UNSAID}: gloss, metal and refraction of the one material.",)


def test_what_an_obj_states_is_kept(tmp_path):
    library = "newmtl bright red\nKd 0.8 0 0\nNs 640\nNi 1.45\nd 0.5\nKs 0.25 0.25 0.25\nillum 2\n"
    importers.bring(written_obj(tmp_path / "build.obj", library), keep_alpha=True)
    rough, metal, index, _, specular = values()["bright red"]
    assert rough == pytest.approx(1.0 - np.sqrt(640 / 1000), abs=1e-3)  # as Blender's importer has it
    assert (metal, index, specular) == pytest.approx((0.0, 1.45, 0.25))
    assert principled(bpy.data.materials[0]).inputs["Alpha"].default_value == 0.5


def test_an_obj_without_its_library_is_moulded_plastic(tmp_path):
    path = written_obj(tmp_path / "build.obj", "")
    (tmp_path / "my bricks.mtl").unlink()
    importers.bring(path)
    assert set(values().values()) <= {NEW}


def written_usda(path, inputs):
    text = usda(0.001, "Z").rstrip().removesuffix("}")
    text = text.replace("int[] faceVertexCounts", "rel material:binding = </build/red>\n        int[] faceVertexCounts")
    text = text.replace('" {\n        rel', '" (prepend apiSchemas = ["MaterialBindingAPI"]) {\n        rel')
    path.write_text(f"""{text}
    def Material "red" {{
        token outputs:surface.connect = </build/red/shader.outputs:surface>
        def Shader "shader" {{
            uniform token info:id = "UsdPreviewSurface"
            color3f inputs:diffuseColor = (0.5, 0, 0)
            {inputs}
            token outputs:surface
        }}
    }}
}}
""")
    return path


def test_a_usd_states_what_is_authored(tmp_path):
    build, _ = importers.bring(written_usda(tmp_path / "bare.usda", ""))
    assert values() == {"red": NEW}
    assert told.of(build) == (f"{UNSAID}: gloss, metal and refraction of the one material.",)
    files.new()
    full = "float inputs:roughness = 0.6\nfloat inputs:metallic = 0\nfloat inputs:ior = 1.5\nfloat inputs:opacity = 1"
    build, _ = importers.bring(written_usda(tmp_path / "full.usda", full))
    assert values() == {"red": (0.6, 0.0, 1.5, 0.0, 0.5)}
    (line,) = told.of(build)
    assert line.startswith("Matt by the export: the one material, roughness 0.6 or more.")


def without_properties(path, names):
    """The FBX with these properties of its materials taken out, written anew by Blender's own record writer."""
    from io_scene_fbx import encode_bin, parse_fbx

    root, version = parse_fbx.parse(str(path))
    put = {
        "B": "add_bool", "C": "add_char", "Y": "add_int16", "I": "add_int32", "L": "add_int64", "F": "add_float32",
        "D": "add_float64", "R": "add_bytes", "S": "add_string", "i": "add_int32_array", "l": "add_int64_array",
        "f": "add_float32_array", "d": "add_float64_array", "b": "add_bool_array", "c": "add_byte_array",
    }  # fmt: skip

    def copied(element, in_material):
        made = encode_bin.FBXElem(element.id)
        for kind, value in zip(element.props_type, element.props, strict=True):
            getattr(made, put[chr(kind)])(value)
        for inner in element.elems:
            if not (in_material and inner.id == b"P" and inner.props[0].decode() in names):
                made.elems.append(copied(inner, in_material or element.id == b"Material"))
        return made

    whole = encode_bin.FBXElem(b"")
    whole.elems.extend(copied(each, False) for each in root.elems)
    encode_bin.write(str(path), whole, version)


def test_an_fbx_states_what_stands_in_its_materials_and_not_in_its_template(tmp_path):
    path = tmp_path / "build.fbx"
    material = bpy.data.materials.new("röd")
    compat.node_tree(material)
    principled(material).inputs["Roughness"].default_value = 0.3
    from_blender_in(material, path)
    assert formats.of(path).stated(path)["röd"] >= {"roughness", "metallic", "specular"}
    importers.bring(path)
    assert values()["röd"] == pytest.approx((0.3, 0.0, 1.54, 0.0, 0.5), abs=0.01)
    files.new()
    without_properties(
        path,
        {"Shininess", "ShininessExponent", "ReflectionFactor", "SpecularFactor", "SpecularColor", "ReflectionColor"},
    )
    assert not formats.of(path).stated(path)["röd"] & {"roughness", "metallic", "specular"}
    bpy.ops.wm.fbx_import(filepath=str(path))
    assert values()["röd"][1] == 1.0  # what Blender makes of the template
    files.new()
    importers.bring(path)
    assert values() == {"röd": NEW}


def from_blender_in(material, path):
    """The small build in one material, written by Blender's FBX exporter; the scene is empty after it."""
    from_blender(path)
    bpy.ops.wm.fbx_import(filepath=str(path))
    for mesh in bpy.data.meshes:
        mesh.materials.clear()
        mesh.materials.append(material)
    bpy.ops.export_scene.fbx(filepath=str(path))
    files.new()


def test_the_materials_of_an_fbx_are_those_that_blenders_own_parser_finds(tmp_path):
    path = tmp_path / "build.fbx"
    material = bpy.data.materials.new("a long name of a colour")
    compat.node_tree(material)
    from_blender_in(material, path)
    from io_scene_fbx import parse_fbx

    root, _ = parse_fbx.parse(str(path))
    objects = next(each for each in root.elems if each.id == b"Objects")
    names = [each.props[1].partition(b"\x00")[0].decode() for each in objects.elems if each.id == b"Material"]
    assert list(fbx.stated(path.read_bytes())) == names == ["a long name of a colour"]


def test_a_ply_shows_its_vertex_colours(tmp_path):
    whole = one_mesh()
    whole.visual.vertex_colors = np.tile([200, 10, 20, 255], (len(whole.vertices), 1)).astype(np.uint8)
    path = tmp_path / "build.ply"
    whole.export(path)
    build, _ = importers.bring(path)
    objects = [thing for thing in build.objects if thing.type == "MESH"]
    assert all(len(thing.data.materials) == 1 for thing in objects)
    (material,) = {thing.data.materials[0] for thing in objects}
    colour = principled(material).inputs["Base Color"]
    assert colour.links[0].from_node.bl_idname == "ShaderNodeVertexColor"
    assert values() == {material.name: NEW}


def test_an_stl_has_no_materials_and_apply_gives_it_plain_plastic(tmp_path):
    path = tmp_path / "build.stl"
    one_mesh().export(path)
    build, _ = importers.bring(path)
    assert told.of(build) == ()
    assert not bpy.data.materials
    made = principled(plain())
    assert made.inputs["Roughness"].default_value == pytest.approx(MOULDED[OPAQUE].roughness)
    assert made.inputs["IOR"].default_value == pytest.approx(MOULDED[OPAQUE].index_of_refraction)


def test_a_fault_in_reading_the_statements_loses_no_brick(tmp_path, monkeypatch):
    path = written_gltf(tmp_path / "build.gltf", {"name": "red"}, {"name": "blue"}, {"name": "white"})

    def fails(_):
        raise RuntimeError

    form = formats.of(path)
    monkeypatch.setitem(formats.FORMATS, ".gltf", formats.Format(form.name, form.load, stated=fails))
    build, _ = importers.bring(path)
    assert told.of(build) == ()
    assert {each[:2] for each in values().values()} == {(1.0, 1.0)}  # as Blender has it


def test_told_sentences_are_kept_in_the_file_each_once():
    room = bpy.data.collections.new("build")
    told.keep(room, ["a – one", "b", "a – one"])
    assert told.of(room) == ("a – one", "b")
    told.keep(room, [])
    assert told.of(room) == ()
    assert not room.keys()
