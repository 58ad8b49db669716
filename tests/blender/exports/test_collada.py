"""COLLADA against its text: Khronos, COLLADA 1.4.1 specification (2008), chapters named beside the checks.

Writers: trimesh and pycollada by their own exporters, and XML written here after the specification. Readers to compare
with: trimesh's transformations and scene graph.
"""

import bpy
import numpy as np
import pytest
import trimesh
from mathutils import Matrix

from addon.scene.exports import collada
from tests.blender.exports.dae import LEGS, NESTED, TRIPOD, dae, geometry, places

# Unit and axis: chapter 5, <unit> and <up_axis>


@pytest.mark.parametrize(
    ("axis", "right", "up", "inward"),
    [("X_UP", (0, -1, 0), (1, 0, 0), (0, 0, 1)), ("Y_UP", (1, 0, 0), (0, 1, 0), (0, 0, 1)),
     ("Z_UP", (1, 0, 0), (0, 0, 1), (0, -1, 0)), (None, (1, 0, 0), (0, 1, 0), (0, 0, 1))],
)  # fmt: skip
@pytest.mark.parametrize("metres", [1.0, 0.001, 0.0254, None])
def test_metres_and_z_up_whatever_the_file_is_in(read_dae, axis, right, up, inward, metres):
    """The table of <up_axis>: what is right, up and towards the viewer; Blender's are +X, +Z and -Y."""
    asset = f'<unit name="u" meter="{metres}"/>' if metres else ""
    asset += f"<up_axis>{axis}</up_axis>" if axis else ""
    found = places(read_dae(dae(asset=asset))["it"])
    named = np.array(TRIPOD.split(), dtype=float).reshape(-1, 3)
    expected = np.stack([named @ right, -(named @ inward), named @ up], axis=1) * (metres or 1.0)
    assert np.allclose(found, expected, atol=1e-6 * (metres or 1.0))


def test_meshes_keep_the_files_own_numbers(read_dae):
    mesh = read_dae(dae(asset='<unit meter="0.001"/><up_axis>X_UP</up_axis>'))["it"].data
    assert [tuple(vertex.co) for vertex in mesh.vertices] == [(0, 0, 0), (1, 0, 0), (0, 2, 0), (0, 0, 3)]


# Nodes: chapter 5, <node>; transforms apply in the order written, each to what stands below it


def test_transforms_apply_in_their_order(read_dae):
    """Oracle: trimesh's transformations, after Gohlke."""
    node = """<node name="it"><translate>1 2 3</translate><rotate>0 0 2 90</rotate><scale>2 2 -1</scale>
        <rotate>1 1 0 30</rotate><matrix>1 0 0 5  0 1 0 6  0 0 1 7  0 0 0 1</matrix>
        <instance_geometry url="#shape"/></node>"""
    t = trimesh.transformations
    expected = t.concatenate_matrices(
        t.translation_matrix((1, 2, 3)), t.rotation_matrix(np.pi / 2, (0, 0, 1)), np.diag([2, 2, -1, 1]),
        t.rotation_matrix(np.pi / 6, (1, 1, 0)), t.translation_matrix((5, 6, 7)),
    )  # fmt: skip
    found = read_dae(dae(node, asset="<up_axis>Z_UP</up_axis>"))["it"].matrix_world
    assert np.allclose(found, expected, atol=1e-5)


def test_lookat_stands_at_the_eye_and_looks_along_minus_z(read_dae):
    node = '<node name="it"><lookat>2 0 5  2 10 5  0 0 1</lookat><instance_geometry url="#shape"/></node>'
    found = np.array(read_dae(dae(node, asset="<up_axis>Z_UP</up_axis>"))["it"].matrix_world)
    assert np.allclose(found[:3, 3], (2, 0, 5), atol=1e-6)
    assert np.allclose(found[:3, 2], (0, -1, 0), atol=1e-6)  # back, away from what it looks at
    assert np.allclose(found[:3, 1], (0, 0, 1), atol=1e-6)


@pytest.mark.parametrize("angle", [45, 20])
def test_skew_and_shear_arrive_whole(read_dae, angle):
    """RenderMan Interface 3.2, RiSkew, which <skew> names as its own: points on the first axis lean to the second."""
    node = f'<node name="it"><skew>{angle} 0 0 2 1 0 0</skew><instance_geometry url="#shape"/></node>'
    found = places(read_dae(dae(node, asset="<up_axis>Z_UP</up_axis>"))["it"])
    lean = 3 * np.tan(np.radians(angle))
    assert np.allclose(found, [(0, 0, 0), (1, 0, 0), (0, 2, 0), (lean, 0, 3)], atol=1e-6)


def test_nested_nodes_stand_where_trimesh_reads_them(read_dae, tmp_path):
    nodes = """<node id="a" name="a"><translate>10 0 0</translate><rotate>0 0 1 30</rotate>
        <node id="b" name="b"><scale>2 3 2</scale><instance_geometry url="#shape"/>
            <node id="c" name="c"><rotate>1 0 0 45</rotate><translate>0 0 4</translate>
                <instance_geometry url="#shape"/></node></node></node>"""
    found = read_dae(dae(nodes, asset="<up_axis>Z_UP</up_axis>"))
    scene = trimesh.load(tmp_path / "build.dae", process=False)
    clouds = [trimesh.transform_points(scene.geometry[name].vertices, matrix) for matrix, name in
              (scene.graph[node] for node in scene.graph.nodes_geometry)]  # fmt: skip
    theirs, ours = np.unique(np.round(np.concatenate(clouds), 4), axis=0), []
    ours = np.unique(np.round(np.concatenate([places(obj) for obj in found.values()]), 4), axis=0)
    assert np.allclose(ours, theirs, atol=2e-4)
    assert (found["c"].parent, found["b"].parent) == (found["b"], bpy.data.objects["a"])
    assert found["b"].parent.type == "EMPTY"


def test_instanced_nodes_share_one_mesh_and_nothing_stands_twice(read_dae):
    nodes = '<node name="left"><instance_node url="#pair"/></node>'
    nodes += '<node name="right"><translate>0 50 0</translate><instance_node url="#pair"/></node>'
    nodes += '<node name="single"><translate>0 0 70</translate><instance_node url="#one"/></node>'
    found = read_dae(dae(nodes, libraries=NESTED, asset="<up_axis>Z_UP</up_axis>"))
    assert len({obj.data for obj in found.values()}) == 1
    origins = sorted(tuple(np.round(obj.matrix_world.translation, 5)) for obj in found.values())
    assert origins == [(0, 0, 0), (0, 50, 0), (1, 0, 9), (1, 0, 70), (1, 50, 9)]
    assert found["single"].parent == bpy.data.objects["build"]


def test_a_node_may_come_after_the_one_that_shows_it(read_dae):
    nodes = '<node><instance_node url="#late"/></node>'
    nodes += '<node id="late" name="late"><instance_geometry url="#shape"/></node>'
    assert len(read_dae(dae(nodes))) == 2


def test_a_skinned_mesh_comes_as_its_shape(read_dae):
    libraries = '<library_controllers><controller id="c"><skin source="#shape"/></controller></library_controllers>'
    assert list(read_dae(dae('<node name="it"><instance_controller url="#c"/></node>', libraries=libraries))) == ["it"]


def test_a_library_without_a_scene_comes_as_its_shapes(read_dae):
    text = dae()
    start, end = text.index("<library_visual_scenes>"), text.index("</COLLADA>")
    assert list(read_dae(text[:start] + text[end:])) == ["shape"]


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
def test_every_kind_of_face(read_dae, faces, corners, size):
    faces = faces.replace("{}", '<input semantic="VERTEX" source="#shape-v" offset="0"/>')
    mesh = read_dae(dae(shapes=geometry(points=SQUARE, faces=faces), asset="<up_axis>Z_UP</up_axis>"))["it"].data
    assert [polygon.loop_total for polygon in mesh.polygons] == corners
    assert area(mesh) == pytest.approx(size)
    assert all(polygon.normal.z > 0.99 for polygon in mesh.polygons)
    assert not mesh.validate()


def test_faces_that_lie_on_each_other_stay(read_dae):
    """There bricks touch."""
    faces = (
        f'<triangles count="8"><input semantic="VERTEX" source="#shape-v" offset="0"/><p>{LEGS} {LEGS}</p></triangles>'
    )
    assert len(read_dae(dae(shapes=geometry(faces=faces)))["it"].data.polygons) == 8


def test_what_pycollada_writes_on_corners_comes_back(read_dae, tmp_path):
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
    mesh = read_dae((tmp_path / "theirs.dae").read_bytes())["it"].data
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


def test_turned_and_scaled_objects_hold_plain_transforms(read_dae):
    """A shear goes where Blender can hold it; all else stays location, rotation and scale."""
    found = read_dae(
        dae('<node name="it"><rotate>0 1 0 20</rotate><scale>1 2 3</scale><instance_geometry url="#shape"/></node>')
    )
    assert found["it"].matrix_parent_inverse == Matrix()
