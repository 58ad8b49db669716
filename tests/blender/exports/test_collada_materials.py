"""Materials and pictures of COLLADA against its text: Khronos, COLLADA 1.4.1 specification (2008)."""

from pathlib import Path

import bpy
import numpy as np
import pytest
from PIL import Image

from addon import compat
from addon.scene.exports import collada
from tests.blender.exports.dae import (
    PRINTED,
    RED,
    TWO,
    bound,
    dae,
    effect_of,
    geometry,
    images,
    materials,
    principled,
    shading,
    source,
)


def test_symbols_are_slots_and_each_binding_has_its_materials(read_dae):
    nodes = ""
    for name, body in (("first", "red"), ("second", "blue"), ("third", "red")):
        shown = bound(body=body, print="white")
        nodes += f'<node name="{name}"><instance_geometry url="#shape">{shown}</instance_geometry></node>'
    effects = {key: shading("lambert", diffuse=RED) for key in ("red", "blue", "white")}
    found = read_dae(dae(nodes, geometry(faces=TWO), materials(**effects)))
    slots = {name: [material.name for material in obj.data.materials] for name, obj in found.items()}
    assert slots == {"first": ["red", "white"], "second": ["blue", "white"], "third": ["red", "white"]}
    assert found["first"].data == found["third"].data
    assert [polygon.material_index for polygon in found["second"].data.polygons] == [0, 1, 1, 1]
    assert len(bpy.data.materials) == 3


@pytest.mark.parametrize("kind", ["lambert", "phong", "blinn"])
def test_diffuse_is_a_colour_pickers(read_dae, kind):
    """IEC 61966-2-1: 0.8 is 0.6038 of the light and 0.1 is 0.0100."""
    shader = principled(effect_of(read_dae, shading(kind, diffuse=RED)))
    assert np.allclose(shader.inputs["Base Color"].default_value, (0.6038, 0.0100, 0, 1), atol=1e-4)


def test_blender_writes_linear_colours(read_dae):
    asset = "<contributor><authoring_tool>Blender 4.5.0</authoring_tool></contributor>"
    shader = principled(effect_of(read_dae, shading("lambert", diffuse=RED), asset=asset))
    assert np.allclose(shader.inputs["Base Color"].default_value, (0.8, 0.1, 0, 1))


def test_a_constant_effect_shows_its_emission(read_dae):
    shader = principled(effect_of(read_dae, shading("constant", emission=RED)))
    assert np.allclose(shader.inputs["Base Color"].default_value, (0.6038, 0.0100, 0, 1), atol=1e-4)


@pytest.mark.parametrize(
    ("inside", "clear"),
    [
        ("<transparency><float>0.3</float></transparency>", 0.7),
        ('<transparent opaque="A_ONE"><color>0 0 0 0.5</color></transparent>', 0.5),
        ("<transparent><color>1 1 1 0.8</color></transparent><transparency><float>0.5</float></transparency>", 0.6),
        ('<transparent opaque="RGB_ZERO"><color>0.5 0.5 0.5 1</color></transparent>', 0.5),
        ('<transparent opaque="RGB_ZERO"><color>0 1 0 1</color></transparent>'
         "<transparency><float>0.5</float></transparency>", 0.715160 / 2),
        ('<transparent opaque="RGB_ZERO"><color>0 0 0 1</color></transparent>', 0),
        ('<transparent opaque="A_ONE"><color>1 1 1 1</color></transparent>', 0),
        ("<transparency><float>0</float></transparency>", 0),  # what nobody could see is solid
    ],
)  # fmt: skip
def test_transparency_by_the_opaque_modes(read_dae, inside, clear):
    """Chapter 7, "Determining transparency (opacity)"."""
    content = shading("phong", diffuse=RED).replace("</phong>", f"{inside}</phong>")
    material = effect_of(read_dae, content)
    assert principled(material).inputs["Transmission Weight"].default_value == pytest.approx(clear, abs=1e-6)


def test_only_what_is_stated_is_set(read_dae, tmp_path):
    number = "<float>{}</float>".format
    plain = shading("lambert", diffuse=RED)
    filler = shading("phong", diffuse=RED, shininess=number(0.0), index_of_refraction=number(1.0))
    glossy = shading("blinn", diffuse=RED, shininess=number(50), index_of_refraction=number(1.49))
    clear = shading("phong", diffuse=RED, transparency=number(0.5))
    everything = materials(plain=plain, filler=filler, glossy=glossy, clear=clear)
    symbols = "".join(f"<triangles count='1' material='{key}'><input semantic='VERTEX' source='#shape-v' offset='0'/>"
                      "<p>0 1 2</p></triangles>" for key in ("plain", "filler", "glossy", "clear"))  # fmt: skip
    made = read_dae(dae(shapes=geometry(faces=symbols), libraries=everything))["it"].data.materials
    fresh = bpy.data.materials.new("fresh")
    compat.node_tree(fresh)
    born = {name: principled(fresh).inputs[name].default_value for name in ("Roughness", "IOR", "Transmission Weight")}
    values = {m.name: {name: principled(m).inputs[name].default_value for name in born} for m in made}
    assert values["plain"] == values["filler"] == born
    assert values["glossy"] == pytest.approx(born | {"Roughness": (2 / 52) ** 0.25, "IOR": 1.49})
    assert values["clear"] == pytest.approx(born | {"Transmission Weight": 0.5})
    assert collada.stated(tmp_path / "build.dae") == {
        "plain": set(), "filler": set(), "glossy": {"roughness", "ior"}, "clear": {"transmission"}
    }  # fmt: skip


@pytest.mark.parametrize("kind", ["lambert", "phong"])
def test_what_cannot_be_understood_leaves_a_plain_brick(read_dae, kind):
    bad = '<technique sid="common"/>'
    node = f'<node name="it"><instance_geometry url="#shape">{bound(body="nowhere")}</instance_geometry></node>'
    libraries = materials(only=shading(kind, diffuse=RED)) + "<library_effects><effect id='x'>" + bad
    found = read_dae(dae(node, geometry(faces=TWO), libraries + "</effect></library_effects>"))
    assert [*found["it"].data.materials] == [None, None]


def picture(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGBA", (4, 4), (10, 200, 30, 128)).save(path)
    return path


@pytest.mark.parametrize(
    ("name", "address"),
    [
        ("print.png", "print.png"),
        ("prints/print.png", "./prints/print.png"),
        ("prints/print.png", "prints\\print.png"),
        ("Drück mich.png", "Dr%C3%BCck%20mich.png"),
        ("Drück mich.png", "Drück mich.png"),
        ("塔.png", "%E5%A1%94.png"),
        ("50%.png", "50%.png"),
        ("print.png", "C:\\somewhere\\else\\print.png"),
        ("print.png", "file:///C:/somewhere/else/print.png"),
    ],
)
def test_a_picture_is_found_beside_the_file(read_dae, tmp_path, name, address):
    path = picture(tmp_path / name)
    material = effect_of(read_dae, PRINTED, libraries=images(address))
    node = principled(material).inputs["Base Color"].links[0].from_node
    assert Path(bpy.path.abspath(node.image.filepath)).samefile(path)


def test_a_picture_by_its_whole_address(read_dae, tmp_path):
    path = picture(tmp_path / "far" / "print.png")
    material = effect_of(read_dae, PRINTED, libraries=images(path.as_uri()))
    assert principled(material).inputs["Base Color"].links


@pytest.mark.parametrize(
    "address",
    ["gone.png", "http://localhost:9/print.png", "//server/share/print.png", "\\\\server\\share\\print.png",
     "file://server/print.png", "/dev/zero", "", "a" * 5000, "data:image/png;base64,AAAA", ".", "\u202e"],
)  # fmt: skip
def test_a_missing_picture_is_left_out(read_dae, address):
    material = effect_of(read_dae, PRINTED, libraries=images(address))
    assert not principled(material).inputs["Base Color"].links
    assert len(bpy.data.images) == 0


def test_a_picture_follows_the_set_that_is_bound_to_it(read_dae, tmp_path):
    picture(tmp_path / "print.png")
    sets = [source(f"uv{number}", "0 0 1 0 0 1", "ST") for number in range(2)]
    inputs = '<input semantic="VERTEX" source="#shape-v" offset="0"/>' + "".join(
        f'<input semantic="TEXCOORD" source="#uv{number}" offset="1" set="{number}"/>' for number in range(2)
    )
    faces = f'<triangles count="1" material="body">{inputs}<p>0 0 1 1 2 2</p></triangles>'
    shape = geometry(faces=faces, sources="".join(sets))
    bind = bound(body="only").replace(
        '"#only"/>',
        '"#only"><bind_vertex_input semantic="UV" input_semantic="TEXCOORD" input_set="1"/></instance_material>',
    )
    node = f'<node name="it"><instance_geometry url="#shape">{bind}</instance_geometry></node>'
    material = read_dae(dae(node, shape, materials(only=PRINTED) + images("print.png")))["it"].data.materials[0]
    names = [each.uv_map for each in material.node_tree.nodes if each.bl_idname == "ShaderNodeUVMap"]
    assert names == ["UVMap.001"]
