"""COLLADA against its text: Khronos, COLLADA 1.4.1 specification (2008), chapters named beside the checks.

Writers: trimesh and pycollada by their own exporters, and XML written here after the specification. Readers to compare
with: trimesh's transformations and scene graph.
"""

import sys
import time
import zipfile
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh
from mathutils import Matrix
from PIL import Image

from addon import compat
from addon.core.errors import FileProblem
from addon.scene.exports import collada, importers

TRIPOD = "0 0 0  1 0 0  0 2 0  0 0 3"  # a corner with legs of 1, 2 and 3 along the file's axes
LEGS = "0 2 1  0 1 3  0 3 2  1 2 3"


def source(key, numbers, params, count=None):
    values = numbers.split()
    named = "".join(f'<param name="{name}" type="float"/>' for name in params)
    return f"""<source id="{key}"><float_array id="{key}-a" count="{count or len(values)}">{numbers}</float_array>
        <technique_common><accessor source="#{key}-a" count="{len(values) // len(params)}" stride="{len(params)}">
        {named}</accessor></technique_common></source>"""


def geometry(key="shape", points=TRIPOD, faces=None, sources=""):
    triangles = f'<triangles count="4"><input semantic="VERTEX" source="#{key}-v" offset="0"/><p>{LEGS}</p></triangles>'
    return f"""<geometry id="{key}"><mesh>{source(key + "-p", points, "XYZ")}{sources}
        <vertices id="{key}-v"><input semantic="POSITION" source="#{key}-p"/></vertices>{faces or triangles}
        </mesh></geometry>"""


def dae(nodes='<node name="it"><instance_geometry url="#shape"/></node>', shapes=None, libraries="", asset=""):
    return f"""<?xml version="1.0" encoding="utf-8"?>
    <COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"><asset>{asset}</asset>{libraries}
    <library_geometries>{geometry() if shapes is None else shapes}</library_geometries>
    <library_visual_scenes><visual_scene id="s">{nodes}</visual_scene></library_visual_scenes>
    <scene><instance_visual_scene url="#s"/></scene></COLLADA>"""


@pytest.fixture
def read(empty_scene, tmp_path):
    """Reads a text as a file, unwelded and unsplit as the loader gives it; its mesh objects by name."""

    def reading(text: str | bytes, name="build.dae") -> dict[str, bpy.types.Object]:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        collada.load(path)
        bpy.context.view_layer.update()
        return {obj.name: obj for obj in bpy.data.objects if obj.type == "MESH"}

    return reading


def places(obj):
    return np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices])


# Unit and axis: chapter 5, <unit> and <up_axis>


@pytest.mark.parametrize(
    ("axis", "right", "up", "inward"),
    [("X_UP", (0, -1, 0), (1, 0, 0), (0, 0, 1)), ("Y_UP", (1, 0, 0), (0, 1, 0), (0, 0, 1)),
     ("Z_UP", (1, 0, 0), (0, 0, 1), (0, -1, 0)), (None, (1, 0, 0), (0, 1, 0), (0, 0, 1))],
)  # fmt: skip
@pytest.mark.parametrize("metres", [1.0, 0.001, 0.0254, None])
def test_metres_and_z_up_whatever_the_file_is_in(read, axis, right, up, inward, metres):
    """The table of <up_axis>: what is right, up and towards the viewer; Blender's are +X, +Z and -Y."""
    asset = f'<unit name="u" meter="{metres}"/>' if metres else ""
    asset += f"<up_axis>{axis}</up_axis>" if axis else ""
    found = places(read(dae(asset=asset))["it"])
    named = np.array(TRIPOD.split(), dtype=float).reshape(-1, 3)
    expected = np.stack([named @ right, -(named @ inward), named @ up], axis=1) * (metres or 1.0)
    assert np.allclose(found, expected, atol=1e-6 * (metres or 1.0))


def test_meshes_keep_the_files_own_numbers(read):
    mesh = read(dae(asset='<unit meter="0.001"/><up_axis>X_UP</up_axis>'))["it"].data
    assert [tuple(vertex.co) for vertex in mesh.vertices] == [(0, 0, 0), (1, 0, 0), (0, 2, 0), (0, 0, 3)]


# Nodes: chapter 5, <node>; transforms apply in the order written, each to what stands below it


def test_transforms_apply_in_their_order(read):
    """Oracle: trimesh's transformations, after Gohlke."""
    node = """<node name="it"><translate>1 2 3</translate><rotate>0 0 2 90</rotate><scale>2 2 -1</scale>
        <rotate>1 1 0 30</rotate><matrix>1 0 0 5  0 1 0 6  0 0 1 7  0 0 0 1</matrix>
        <instance_geometry url="#shape"/></node>"""
    t = trimesh.transformations
    expected = t.concatenate_matrices(
        t.translation_matrix((1, 2, 3)), t.rotation_matrix(np.pi / 2, (0, 0, 1)), np.diag([2, 2, -1, 1]),
        t.rotation_matrix(np.pi / 6, (1, 1, 0)), t.translation_matrix((5, 6, 7)),
    )  # fmt: skip
    found = read(dae(node, asset="<up_axis>Z_UP</up_axis>"))["it"].matrix_world
    assert np.allclose(found, expected, atol=1e-5)


def test_lookat_stands_at_the_eye_and_looks_along_minus_z(read):
    node = '<node name="it"><lookat>2 0 5  2 10 5  0 0 1</lookat><instance_geometry url="#shape"/></node>'
    found = np.array(read(dae(node, asset="<up_axis>Z_UP</up_axis>"))["it"].matrix_world)
    assert np.allclose(found[:3, 3], (2, 0, 5), atol=1e-6)
    assert np.allclose(found[:3, 2], (0, -1, 0), atol=1e-6)  # back, away from what it looks at
    assert np.allclose(found[:3, 1], (0, 0, 1), atol=1e-6)


@pytest.mark.parametrize("angle", [45, 20])
def test_skew_and_shear_arrive_whole(read, angle):
    """RenderMan Interface 3.2, RiSkew, which <skew> names as its own: points on the first axis lean to the second."""
    node = f'<node name="it"><skew>{angle} 0 0 2 1 0 0</skew><instance_geometry url="#shape"/></node>'
    found = places(read(dae(node, asset="<up_axis>Z_UP</up_axis>"))["it"])
    lean = 3 * np.tan(np.radians(angle))
    assert np.allclose(found, [(0, 0, 0), (1, 0, 0), (0, 2, 0), (lean, 0, 3)], atol=1e-6)


def test_nested_nodes_stand_where_trimesh_reads_them(read, tmp_path):
    nodes = """<node id="a" name="a"><translate>10 0 0</translate><rotate>0 0 1 30</rotate>
        <node id="b" name="b"><scale>2 3 2</scale><instance_geometry url="#shape"/>
            <node id="c" name="c"><rotate>1 0 0 45</rotate><translate>0 0 4</translate>
                <instance_geometry url="#shape"/></node></node></node>"""
    found = read(dae(nodes, asset="<up_axis>Z_UP</up_axis>"))
    scene = trimesh.load(tmp_path / "build.dae", process=False)
    clouds = [trimesh.transform_points(scene.geometry[name].vertices, matrix) for matrix, name in
              (scene.graph[node] for node in scene.graph.nodes_geometry)]  # fmt: skip
    theirs, ours = np.unique(np.round(np.concatenate(clouds), 4), axis=0), []
    ours = np.unique(np.round(np.concatenate([places(obj) for obj in found.values()]), 4), axis=0)
    assert np.allclose(ours, theirs, atol=2e-4)
    assert (found["c"].parent, found["b"].parent) == (found["b"], bpy.data.objects["a"])
    assert found["b"].parent.type == "EMPTY"


NESTED = """<library_nodes><node id="pair" name="pair"><node><instance_geometry url="#shape"/></node>
    <node><translate>0 0 9</translate><instance_node url="#one"/></node></node>
    <node id="one" name="one"><translate>1 0 0</translate><instance_geometry url="#shape"/></node></library_nodes>"""


def test_instanced_nodes_share_one_mesh_and_nothing_stands_twice(read):
    nodes = '<node name="left"><instance_node url="#pair"/></node>'
    nodes += '<node name="right"><translate>0 50 0</translate><instance_node url="#pair"/></node>'
    nodes += '<node name="single"><translate>0 0 70</translate><instance_node url="#one"/></node>'
    found = read(dae(nodes, libraries=NESTED, asset="<up_axis>Z_UP</up_axis>"))
    assert len({obj.data for obj in found.values()}) == 1
    origins = sorted(tuple(np.round(obj.matrix_world.translation, 5)) for obj in found.values())
    assert origins == [(0, 0, 0), (0, 50, 0), (1, 0, 9), (1, 0, 70), (1, 50, 9)]
    assert found["single"].parent == bpy.data.objects["build"]


def test_a_node_may_come_after_the_one_that_shows_it(read):
    nodes = '<node><instance_node url="#late"/></node>'
    nodes += '<node id="late" name="late"><instance_geometry url="#shape"/></node>'
    assert len(read(dae(nodes))) == 2


def test_a_skinned_mesh_comes_as_its_shape(read):
    libraries = '<library_controllers><controller id="c"><skin source="#shape"/></controller></library_controllers>'
    assert list(read(dae('<node name="it"><instance_controller url="#c"/></node>', libraries=libraries))) == ["it"]


def test_a_library_without_a_scene_comes_as_its_shapes(read):
    text = dae()
    start, end = text.index("<library_visual_scenes>"), text.index("</COLLADA>")
    assert list(read(text[:start] + text[end:])) == ["shape"]


# Faces: chapter 5, <polylist>, <polygons>, <tristrips>, <trifans>

SQUARE = "0 0 0  4 0 0  4 4 0  0 4 0  1 1 0  3 1 0  3 3 0  1 3 0"


def area(mesh):
    return sum(polygon.area for polygon in mesh.polygons)


@pytest.mark.parametrize(
    ("faces", "corners", "size"),
    [
        ("<polylist count='2'>{}<vcount>4 3</vcount><p>0 1 2 3 4 5 6</p></polylist>", [4, 3], 16 + 2),
        ("<polygons count='2'>{}<p>0 1 2 3</p><p>4 5 6</p></polygons>", [4, 3], 16 + 2),
        ("<polygons count='1'>{}<ph><p>0 1 2 3</p><h>7 6 5 4</h></ph></polygons>", [3] * 8, 16 - 4),
        ("<polygons count='1'>{}<ph><p>0 1 2 3</p><h>4 5 6 7</h></ph></polygons>", [3] * 8, 16 - 4),
        ("<polylist count='1'>{}<vcount>10</vcount><p>0 1 2 3 0 4 7 6 5 4</p></polylist>", [3] * 8, 16 - 4),
        ("<tristrips count='1'>{}<p>0 1 3 2</p></tristrips>", [3] * 2, 16),
        ("<trifans count='1'>{}<p>0 1 2 3</p></trifans>", [3] * 2, 16),
        ("<triangles count='3'>{}<p>0 1 2  0 2 3  0 0 1</p></triangles>", [3] * 2, 16),
        ("<polylist count='2'>{}<vcount>4 2</vcount><p>0 1 2 3  0 1</p></polylist>", [4], 16),
        ("<linestrips count='1'>{}<p>0 1 2</p></linestrips><triangles count='1'>{}<p>0 1 2</p></triangles>", [3], 8),
    ],
    ids=["polylist", "polygons", "hole", "hole turned alike", "keyhole", "strip", "fan", "no face", "line", "edges"],
)
def test_every_kind_of_face(read, faces, corners, size):
    faces = faces.replace("{}", '<input semantic="VERTEX" source="#shape-v" offset="0"/>')
    mesh = read(dae(shapes=geometry(points=SQUARE, faces=faces), asset="<up_axis>Z_UP</up_axis>"))["it"].data
    assert [polygon.loop_total for polygon in mesh.polygons] == corners
    assert area(mesh) == pytest.approx(size)
    assert all(polygon.normal.z > 0.99 for polygon in mesh.polygons)
    assert not mesh.validate()


def test_faces_that_lie_on_each_other_stay(read):
    """There bricks touch."""
    faces = (
        f'<triangles count="8"><input semantic="VERTEX" source="#shape-v" offset="0"/><p>{LEGS} {LEGS}</p></triangles>'
    )
    assert len(read(dae(shapes=geometry(faces=faces)))["it"].data.polygons) == 8


def test_what_pycollada_writes_on_corners_comes_back(read, tmp_path):
    """Normals, two sets of texture coordinates and colours, each with indices of its own."""
    import collada as library

    rng = np.random.default_rng(5)
    normals = rng.normal(size=(6, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    values = {"n": normals, "t": rng.random((5, 2)), "u": rng.random((7, 2)), "c": rng.random((4, 3))}
    file = library.Collada()
    params = {"n": "XYZ", "t": "ST", "u": "ST", "c": "RGB"}
    points = np.array(TRIPOD.split(), dtype=float)
    sources = [library.source.FloatSource("p", points, tuple("XYZ"))]
    sources += [library.source.FloatSource(key, each.ravel(), tuple(params[key])) for key, each in values.items()]
    made = library.geometry.Geometry(file, "shape", "shape", sources)
    inputs = library.source.InputList()
    for offset, (semantic, key, number) in enumerate(
        [
            ("VERTEX", "p", None),
            ("NORMAL", "n", None),
            ("TEXCOORD", "t", "0"),
            ("TEXCOORD", "u", "1"),
            ("COLOR", "c", None),
        ]
    ):
        inputs.addInput(offset, semantic, f"#{key}", number)
    corners = np.array(LEGS.split(), dtype=int)
    picks = {key: rng.integers(0, len(each), 12) for key, each in values.items()}
    index = np.stack([corners, *picks.values()], axis=1)
    made.primitives.append(made.createTriangleSet(index.ravel(), inputs, "symbol"))
    file.geometries.append(made)
    node = library.scene.Node("it", children=[library.scene.GeometryNode(made, [])])
    file.scenes.append(library.scene.Scene("s", [node]))
    file.scene = file.scenes[0]
    file.write(str(tmp_path / "theirs.dae"))
    mesh = read((tmp_path / "theirs.dae").read_bytes())["it"].data
    assert [loop.vertex_index for loop in mesh.loops] == corners.tolist()
    assert np.allclose([normal.vector for normal in mesh.corner_normals], values["n"][picks["n"]], atol=1e-3)
    for layer, key in (("UVMap", "t"), ("UVMap.001", "u")):
        assert np.allclose([each.vector for each in mesh.uv_layers[layer].uv], values[key][picks[key]], atol=1e-6)
    colours = [each.color_srgb[:3] for each in mesh.color_attributes["Color"].data]
    assert np.allclose(colours, values["c"][picks["c"]], atol=1e-3)


def test_a_scene_that_trimesh_writes_comes_back(empty_scene, tmp_path):
    """Its writer of meshes; the colour of a face is one it makes a material of."""
    box, ball = trimesh.creation.box((8, 16, 9.6)), trimesh.creation.icosphere(radius=3)
    ball.apply_translation((30, 0, 5))
    (tmp_path / "theirs.dae").write_bytes(trimesh.exchange.dae.export_collada([box, ball]))
    collada.load(tmp_path / "theirs.dae")
    bpy.context.view_layer.update()
    found = [obj for obj in bpy.data.objects if obj.type == "MESH"]
    assert sorted(len(obj.data.polygons) for obj in found) == sorted([len(box.faces), len(ball.faces)])
    clouds = np.concatenate([places(obj) for obj in found])[:, [0, 2, 1]] * (1, 1, -1)  # it writes no axis: Y is up
    assert np.allclose(np.ptp(clouds, axis=0), np.ptp(np.concatenate([box.vertices, ball.vertices]), axis=0), atol=1e-4)


# Materials: chapter 5, <bind_material>, <instance_material>; chapter 8, <effect>, <profile_COMMON>


def materials(**effects):
    """Libraries with a material for each effect, whose content is given; ids and names alike."""
    made = "".join(f'<material id="{key}"><instance_effect url="#{key}-fx"/></material>' for key in effects)
    made = f"<library_materials>{made}</library_materials><library_effects>"
    for key, content in effects.items():
        made += f'<effect id="{key}-fx"><profile_COMMON>{content}</profile_COMMON></effect>'
    return made + "</library_effects>"


def shading(kind, **values):
    inside = "".join(f"<{key}>{value}</{key}>" for key, value in values.items())
    return f'<technique sid="common"><{kind}>{inside}</{kind}></technique>'


def bound(**symbols):
    each = "".join(f'<instance_material symbol="{symbol}" target="#{key}"/>' for symbol, key in symbols.items())
    return f"<bind_material><technique_common>{each}</technique_common></bind_material>"


def principled(material):
    return next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")


RED = "<color>0.8 0.1 0 1</color>"
TWO = """<triangles count="1" material="body"><input semantic="VERTEX" source="#shape-v" offset="0"/><p>0 1 2</p>
    </triangles><triangles count="3" material="print"><input semantic="VERTEX" source="#shape-v" offset="0"/>
    <p>0 1 3  0 3 2  1 2 3</p></triangles>"""


def test_symbols_are_slots_and_each_binding_has_its_materials(read):
    nodes = ""
    for name, body in (("first", "red"), ("second", "blue"), ("third", "red")):
        shown = bound(body=body, print="white")
        nodes += f'<node name="{name}"><instance_geometry url="#shape">{shown}</instance_geometry></node>'
    effects = {key: shading("lambert", diffuse=RED) for key in ("red", "blue", "white")}
    found = read(dae(nodes, geometry(faces=TWO), materials(**effects)))
    slots = {name: [material.name for material in obj.data.materials] for name, obj in found.items()}
    assert slots == {"first": ["red", "white"], "second": ["blue", "white"], "third": ["red", "white"]}
    assert found["first"].data == found["third"].data
    assert [polygon.material_index for polygon in found["second"].data.polygons] == [0, 1, 1, 1]
    assert len(bpy.data.materials) == 3


def effect_of(read, content, **more):
    libraries = materials(only=content) + more.pop("libraries", "")
    node = f'<node name="it"><instance_geometry url="#shape">{bound(body="only")}</instance_geometry></node>'
    shape = geometry(faces=TWO.replace("print", "body"), sources=more.pop("sources", ""))
    return read(dae(node, shape, libraries, **more))["it"].data.materials[0]


@pytest.mark.parametrize("kind", ["lambert", "phong", "blinn"])
def test_diffuse_is_a_colour_pickers(read, kind):
    """IEC 61966-2-1: 0.8 is 0.6038 of the light and 0.1 is 0.0100."""
    shader = principled(effect_of(read, shading(kind, diffuse=RED)))
    assert np.allclose(shader.inputs["Base Color"].default_value, (0.6038, 0.0100, 0, 1), atol=1e-4)


def test_blender_writes_linear_colours(read):
    asset = "<contributor><authoring_tool>Blender 4.5.0</authoring_tool></contributor>"
    shader = principled(effect_of(read, shading("lambert", diffuse=RED), asset=asset))
    assert np.allclose(shader.inputs["Base Color"].default_value, (0.8, 0.1, 0, 1))


def test_a_constant_effect_shows_its_emission(read):
    shader = principled(effect_of(read, shading("constant", emission=RED)))
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
def test_transparency_by_the_opaque_modes(read, inside, clear):
    """Chapter 7, "Determining transparency (opacity)"."""
    content = shading("phong", diffuse=RED).replace("</phong>", f"{inside}</phong>")
    material = effect_of(read, content)
    assert principled(material).inputs["Transmission Weight"].default_value == pytest.approx(clear, abs=1e-6)


def test_only_what_is_stated_is_set(read, tmp_path):
    number = "<float>{}</float>".format
    plain = shading("lambert", diffuse=RED)
    filler = shading("phong", diffuse=RED, shininess=number(0.0), index_of_refraction=number(1.0))
    glossy = shading("blinn", diffuse=RED, shininess=number(50), index_of_refraction=number(1.49))
    clear = shading("phong", diffuse=RED, transparency=number(0.5))
    everything = materials(plain=plain, filler=filler, glossy=glossy, clear=clear)
    symbols = "".join(f"<triangles count='1' material='{key}'><input semantic='VERTEX' source='#shape-v' offset='0'/>"
                      "<p>0 1 2</p></triangles>" for key in ("plain", "filler", "glossy", "clear"))  # fmt: skip
    made = read(dae(shapes=geometry(faces=symbols), libraries=everything))["it"].data.materials
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
def test_what_cannot_be_understood_leaves_a_plain_brick(read, kind):
    bad = '<technique sid="common"/>'
    node = f'<node name="it"><instance_geometry url="#shape">{bound(body="nowhere")}</instance_geometry></node>'
    libraries = materials(only=shading(kind, diffuse=RED)) + "<library_effects><effect id='x'>" + bad
    found = read(dae(node, geometry(faces=TWO), libraries + "</effect></library_effects>"))
    assert [*found["it"].data.materials] == [None, None]


def picture(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGBA", (4, 4), (10, 200, 30, 128)).save(path)
    return path


TEXTURE = """<newparam sid="s"><surface type="2D"><init_from>img</init_from></surface></newparam>
    <newparam sid="m"><sampler2D><source>s</source></sampler2D></newparam>"""
PRINTED = TEXTURE + shading("phong", diffuse='<texture texture="m" texcoord="UV"/>')


def images(address):
    return f'<library_images><image id="img"><init_from>{address}</init_from></image></library_images>'


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
def test_a_picture_is_found_beside_the_file(read, tmp_path, name, address):
    path = picture(tmp_path / name)
    material = effect_of(read, PRINTED, libraries=images(address))
    node = principled(material).inputs["Base Color"].links[0].from_node
    assert Path(bpy.path.abspath(node.image.filepath)).samefile(path)


def test_a_picture_by_its_whole_address(read, tmp_path):
    path = picture(tmp_path / "far" / "print.png")
    material = effect_of(read, PRINTED, libraries=images(path.as_uri()))
    assert principled(material).inputs["Base Color"].links


@pytest.mark.parametrize(
    "address",
    ["gone.png", "http://localhost:9/print.png", "//server/share/print.png", "\\\\server\\share\\print.png",
     "file://server/print.png", "/dev/zero", "", "a" * 5000, "data:image/png;base64,AAAA", ".", "\u202e"],
)  # fmt: skip
def test_a_missing_picture_is_left_out(read, address):
    material = effect_of(read, PRINTED, libraries=images(address))
    assert not principled(material).inputs["Base Color"].links
    assert len(bpy.data.images) == 0


def test_a_picture_follows_the_set_that_is_bound_to_it(read, tmp_path):
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
    material = read(dae(node, shape, materials(only=PRINTED) + images("print.png")))["it"].data.materials[0]
    names = [each.uv_map for each in material.node_tree.nodes if each.bl_idname == "ShaderNodeUVMap"]
    assert names == ["UVMap.001"]


# What no file may do


def zipped(text):
    path = Path(bpy.app.tempdir) / "packed.zip"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("build.dae", text)
    return path.read_bytes()


def doubling(levels):
    """Each node shows the one before it twice."""
    made = '<node id="n0"><instance_geometry url="#shape"/></node>'
    for level in range(1, levels):
        made += f'<node id="n{level}">' + f'<instance_node url="#n{level - 1}"/>' * 2 + "</node>"
    return f"<library_nodes>{made}</library_nodes>"


def chain(length):
    made = "".join(f'<node id="n{k}"><instance_node url="#n{k + 1}"/></node>' for k in range(length))
    return f'<library_nodes>{made}<node id="n{length}"><instance_geometry url="#shape"/></node></library_nodes>'


SHOW = '<node><instance_node url="#{}"/></node>'
LOOP = '<library_nodes><node id="a"><node><instance_node url="#b"/></node></node>'
LOOP += '<node id="b"><instance_node url="#a"/></node></library_nodes>'
TYPE = '<!DOCTYPE COLLADA [<!ENTITY x "ha">]>'
OUTSIDE = '<!DOCTYPE COLLADA [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
LAUGHS = "<!DOCTYPE COLLADA [" + '<!ENTITY l0 "lol">' + "".join(
    f'<!ENTITY l{k} "' + f"&l{k - 1};" * 10 + '">' for k in range(1, 12)
) + "]>"  # fmt: skip
HEAD = '<?xml version="1.0" encoding="utf-8"?>'
BAD = {
    "entity": (dae(asset="<title>&x;</title>").replace(HEAD, HEAD + TYPE), "document type"),
    "outside": (dae(asset="<title>&x;</title>").replace(HEAD, HEAD + OUTSIDE), "document type"),
    "laughs": (dae(asset="<title>&l11;</title>").replace(HEAD, HEAD + LAUGHS), "document type"),
    "type in utf-16": (dae().replace(HEAD, f'<?xml version="1.0" encoding="utf-16"?>{TYPE}').encode("utf-16"), "type"),
    "undefined entity": (dae(asset="<title>&x;</title>"), "undefined entity"),
    "packed": (lambda: zipped(dae()), "unpack"),
    "another root": ("<svg/>", "svg"),
    "no xml": ("solid brick", "syntax error"),
    "truncated": (dae()[:900], "no element found|unclosed"),
    "deep": (dae("<node>" * 5000 + "</node>" * 5000), "nested deeper"),
    "loop": (dae(SHOW.format("a"), libraries=LOOP), "contains itself"),
    "own parent": (dae('<node id="a">' + SHOW.format("a") + "</node>"), "contains itself"),
    "doubling": (dae(SHOW.format("n40"), libraries=doubling(41)), "more than"),
    "empty doubling": (dae(SHOW.format("n40"), libraries=doubling(41).replace("instance_geometry", "x")), "more than"),
    "chain": (dae(SHOW.format("n0"), libraries=chain(5000)), "deeper than"),
    "missing node": (dae(SHOW.format("x")), "node x is missing"),
    "missing shape": (dae(shapes=""), "geometry shape is missing"),
    "another file": (dae('<node><instance_geometry url="other.dae#x"/></node>'), "another file"),
    "no address": (dae("<node><instance_geometry/></node>"), "another file"),
    "not a number": (dae(shapes=geometry(points=TRIPOD.replace("3", "NaN"))), "not a number"),
    "endless": (dae(shapes=geometry(points=TRIPOD.replace("3", "inf"))), "not a number"),
    "too large": (dae(shapes=geometry(points=TRIPOD.replace("3", "1e60"))), "not a number"),
    "words": (dae(shapes=geometry(points=TRIPOD.replace("3", "high"))), "numbers|COLLADA"),
    "decimal commas": (dae(shapes=geometry(points="0,5 0 0  1 0 0  0 2 0  0 0 3")), "numbers|COLLADA"),
    "few numbers": (dae(shapes=geometry().replace('count="12"', 'count="15"')), "12 numbers and not 15"),
    "beyond": (dae(shapes=geometry().replace(LEGS, LEGS.replace("3", "4"))), "COLLADA"),
    "below": (dae(shapes=geometry().replace(LEGS, LEGS.replace("3", "-1"))), "not in it"),
    "odd corners": (dae(shapes=geometry().replace(LEGS, LEGS + " 1")), "COLLADA"),
    "few faces": (dae(shapes=geometry().replace('<triangles count="4"', '<triangles count="9"')), "not 9"),
    "interleaved": (dae(shapes=geometry().replace('stride="3"', 'stride="8"')), "interleaved"),
    "unit of zero": (dae(asset='<unit meter="0"/>'), "unit is 0 m"),
    "unit of nothing": (dae(asset='<unit meter="nan"/>'), "unit is nan m"),
    "unit of words": (dae(asset='<unit meter="inch"/>'), "COLLADA"),
    "half a transform": (dae("<node><translate>1 2</translate><instance_geometry url='#shape'/></node>"), "translate"),
    "wild transform": (dae("<node><scale>1 nan 1</scale><instance_geometry url='#shape'/></node>"), "scale"),
    "no mesh": (dae("<node/>"), "no mesh"),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD)
def test_bad_files_are_told_in_one_sentence_and_leave_nothing(empty_scene, tmp_path, what):
    content, words = BAD[what]
    content = content() if callable(content) else content
    path = tmp_path / "bad.dae"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    before = {prop.identifier: len(getattr(bpy.data, prop.identifier)) for prop in bpy.data.bl_rna.properties
              if prop.type == "COLLECTION"}  # fmt: skip
    start = time.perf_counter()
    with pytest.raises(FileProblem, match=words) as caught:
        importers.bring(path)
    assert time.perf_counter() - start < 20, "seconds"
    assert len(str(caught.value).splitlines()) == 1
    assert before == {name: len(getattr(bpy.data, name)) for name in before}


def test_damage_anywhere_is_a_sentence_or_a_build(empty_scene, tmp_path):
    """Bytes changed, cut out and doubled at random, seeded: nothing but a FileProblem, and no long wait."""
    nodes = '<node name="left"><instance_node url="#pair"/></node>'
    effects = materials(body=PRINTED, print=shading("phong", diffuse=RED, transparency="<float>0.4</float>"))
    whole = dae(nodes, geometry(faces=TWO), NESTED + effects + images("print.png"), '<unit meter="0.01"/>').encode()
    rng = np.random.default_rng(16)
    path, read = tmp_path / "damaged.dae", 0
    for _ in range(200):
        data = bytearray(whole)
        for _ in range(rng.integers(1, 6)):
            start, length = int(rng.integers(len(data))), int(rng.integers(1, 12))
            match rng.integers(4):
                case 0:
                    data[start] = int(rng.integers(256))
                case 1:
                    del data[start : start + length]
                case 2:
                    data[start:start] = data[start : start + length]
                case _:
                    data[start : start + 1] = bytes(rng.choice(list(b'0123456789.-e<>/#" '), 1).tolist())
        path.write_bytes(data)
        begun = time.perf_counter()
        try:
            read += len(importers.bring(path)[0].objects) > 0
        except FileProblem:
            assert len(bpy.data.objects) == 0
        bpy.data.batch_remove(bpy.data.objects)
        assert time.perf_counter() - begun < 10, "seconds"
    assert 0 < read < 200


def test_a_copy_without_the_library_says_so(empty_scene, tmp_path, monkeypatch):
    for name in [name for name in sys.modules if name.split(".")[0] == "collada" or ".exports.dae" in name]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.delattr("addon.scene.exports.dae", raising=False)
    monkeypatch.setitem(sys.modules, "collada", None)
    monkeypatch.setitem(sys.modules, "collada.common", None)
    (tmp_path / "it.dae").write_text(dae())
    with pytest.raises(FileProblem, match="needs the library pycollada"):
        importers.bring(tmp_path / "it.dae")


def test_turned_and_scaled_objects_hold_plain_transforms(read):
    """A shear goes where Blender can hold it; all else stays location, rotation and scale."""
    found = read(
        dae('<node name="it"><rotate>0 1 0 20</rotate><scale>1 2 3</scale><instance_geometry url="#shape"/></node>')
    )
    assert found["it"].matrix_parent_inverse == Matrix()
