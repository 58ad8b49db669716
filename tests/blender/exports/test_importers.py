"""One small build, written out in every format by writers other than the readers under test, comes back in its place.

Writers: trimesh (glTF, STL, PLY, OBJ), text written here after the formats' own documents (USD, COLLADA, OBJ), and
Blender's exporter where there is no other (FBX, USD crate and package).
Sizes: common practice of the trade, no published source.
"""

import sys

import bpy
import numpy as np
import pytest
import trimesh
from mathutils import Matrix

from addon.core.errors import FileProblem
from addon.scene import columns
from addon.scene.exports import importers

PARTS = {"2x4": (32, 16, 9.6), "2x2": (16, 16, 9.6), "1x2 plate": (16, 8, 3.2)}
PLACES = [
    ("2x4", (0, 0, 0)),
    ("2x4", (32, 0, 0)),
    ("2x4", (0, 16, 0)),
    ("2x2", (32, 16, 0)),
    ("2x2", (16, 8, 9.6)),
    ("2x2", (32, 8, 9.6)),
    ("1x2 plate", (0, 8, 9.6)),
    ("1x2 plate", (16, 8, 19.2)),
    ("2x4", (20, 8, 22.4)),
]
Y_UP = np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]], dtype=float)  # (x, y, z) standing on z, written standing on y


def brick(name):
    """A closed brick about its own middle: a block in mm with one square stud on top."""
    size = np.array(PARTS[name], dtype=float)
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2
    half = size[2] / 2
    rings = [(size[:2], -half), (size[:2], half), (size[:2] - 3.2, half), (size[:2] - 3.2, half + 1.7)]
    vertices = np.concatenate([np.c_[square * wide, np.full(4, z)] for wide, z in rings])
    faces = [[0, 2, 1], [0, 3, 2], [12, 13, 14], [12, 14, 15]]
    for k in range(4):
        n = (k + 1) % 4
        for ring in (0, 4, 8):
            faces += [[ring + k, ring + n, ring + 4 + n], [ring + k, ring + 4 + n, ring + 4 + k]]
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    assert mesh.is_watertight
    return mesh


def middle(name, place):
    return np.array(place) + np.array(PARTS[name]) / 2


def build_scene(scale=1.0, axes=Y_UP):
    """The build as a trimesh scene, one shared geometry for each part."""
    scene = trimesh.Scene()
    meshes = {name: brick(name) for name in PARTS}
    for mesh in meshes.values():
        mesh.vertices = mesh.vertices @ axes.T * scale
    scene.geometry.update(meshes)
    for number, (name, place) in enumerate(PLACES):
        pose = np.eye(4)
        pose[:3, 3] = axes @ middle(name, place) * scale
        scene.graph.update(frame_to=f"part.{number:04d}", geometry=name, matrix=pose)
    return scene


def one_mesh(axes=None):
    meshes = [brick(name).apply_translation(middle(name, place)) for name, place in PLACES]
    whole = trimesh.util.concatenate(meshes)
    whole.merge_vertices()
    if axes is not None:
        whole.vertices = whole.vertices @ axes.T
    return whole


def usda(metres_per_unit, up, authored=True):
    axes = Y_UP if up == "Y" else np.eye(3)
    scale = 0.001 / metres_per_unit
    head = f'metersPerUnit = {metres_per_unit}\n    upAxis = "{up}"' if authored else ""
    text = [f'#usda 1.0\n(\n    defaultPrim = "build"\n    {head}\n)\ndef Xform "build"\n{{']
    for number, (name, place) in enumerate(PLACES):
        mesh = brick(name)
        points = ", ".join(f"({x!r}, {y!r}, {z!r})" for x, y, z in (mesh.vertices @ axes.T * scale).tolist())
        x, y, z = (axes @ middle(name, place) * scale).tolist()
        text.append(f"""
    def Mesh "part_{number:04d}" {{
        int[] faceVertexCounts = {[3] * len(mesh.faces)}
        int[] faceVertexIndices = {mesh.faces.ravel().tolist()}
        point3f[] points = [{points}]
        uniform token subdivisionScheme = "none"
        double3 xformOp:translate = ({x!r}, {y!r}, {z!r})
        uniform token[] xformOpOrder = ["xformOp:translate"]
    }}""")
    return "\n".join([*text, "}\n"])


def collada(metres_per_unit, up):
    axes = Y_UP if up == "Y_UP" else np.eye(3)
    scale = 0.001 / metres_per_unit
    geometries, nodes = [], []
    for name in PARTS:
        mesh, key = brick(name), "part_" + name.replace(" ", "_")
        numbers = " ".join(map(repr, (mesh.vertices @ axes.T * scale).ravel().tolist()))
        indices = " ".join(map(str, mesh.faces.ravel()))
        geometries.append(f"""<geometry id="{key}"><mesh><source id="{key}-p">
            <float_array id="{key}-a" count="{mesh.vertices.size}">{numbers}</float_array><technique_common>
            <accessor source="#{key}-a" count="{len(mesh.vertices)}" stride="3"><param name="X" type="float"/>
            <param name="Y" type="float"/><param name="Z" type="float"/></accessor></technique_common></source>
            <vertices id="{key}-v"><input semantic="POSITION" source="#{key}-p"/></vertices>
            <triangles count="{len(mesh.faces)}"><input semantic="VERTEX" source="#{key}-v" offset="0"/>
            <p>{indices}</p></triangles></mesh></geometry>""")
    for number, (name, place) in enumerate(PLACES):
        x, y, z = axes @ middle(name, place) * scale
        nodes.append(f"""<node id="n{number}" name="part_{number:04d}"><translate>{x} {y} {z}</translate>
            <instance_geometry url="#part_{name.replace(" ", "_")}"/></node>""")
    return f"""<?xml version="1.0" encoding="utf-8"?>
    <COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"><asset>
    <created>2020-01-01T00:00:00</created><modified>2020-01-01T00:00:00</modified>
    <unit name="unit" meter="{metres_per_unit}"/><up_axis>{up}</up_axis></asset>
    <library_geometries>{"".join(geometries)}</library_geometries>
    <library_visual_scenes><visual_scene id="s">{"".join(nodes)}</visual_scene></library_visual_scenes>
    <scene><instance_visual_scene url="#s"/></scene></COLLADA>"""


def objects_text():
    """An OBJ with one named object for each brick, standing on y."""
    lines, first = [], 1
    for number, (name, place) in enumerate(PLACES):
        mesh = brick(name).apply_translation(middle(name, place))
        lines.append(f"o part.{number:04d}")
        lines += [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in mesh.vertices @ Y_UP.T]
        lines += ["f " + " ".join(str(first + i) for i in face) for face in mesh.faces]
        first += len(mesh.vertices)
    return "\n".join(lines) + "\n"


def from_blender(path):
    """Put the build into Blender in metres, write it with Blender's own exporter, and empty the scene."""
    made = []
    meshes = {}
    for name in PARTS:
        mesh = brick(name)
        meshes[name] = bpy.data.meshes.new(name)
        meshes[name].from_pydata(mesh.vertices / 1000, [], mesh.faces.tolist())
    for number, (name, place) in enumerate(PLACES):
        made.append(bpy.data.objects.new(f"part.{number:04d}", meshes[name]))
        made[-1].location = middle(name, place) / 1000
        bpy.context.scene.collection.objects.link(made[-1])
    bpy.context.view_layer.update()
    if path.suffix == ".fbx":
        bpy.ops.export_scene.fbx(filepath=str(path))
    else:
        bpy.ops.wm.usd_export(filepath=str(path))
    bpy.data.batch_remove([*made, *meshes.values()])


def write(kind, folder):
    path = folder / f"breakwater.{kind.split()[0]}"
    if path.suffix == ".glb":
        scale = {"glb": 0.001, "glb scaled": 0.0017, "glb in mm": 1.0}[kind]
        path.write_bytes(build_scene(scale).export(file_type="glb"))
    elif path.suffix == ".gltf":
        for name, data in build_scene(0.001).export(file_type="gltf").items():
            (folder / ("breakwater.gltf" if name.endswith(".gltf") else name)).write_bytes(data)
    elif kind == "stl ascii":
        path.write_text(trimesh.exchange.stl.export_stl_ascii(one_mesh()))
    elif path.suffix in (".stl", ".ply"):
        one_mesh().export(path)
    elif kind == "obj":
        path.write_text(one_mesh(Y_UP).export(file_type="obj"))
    elif kind == "obj of objects":
        path.write_text(objects_text())
    elif path.suffix == ".usda":
        path.write_text(
            usda(
                *{"mm": (0.001, "Z"), "cm": (0.01, "Y"), "m": (1.0, "Y")}.get(kind[5:], (0.01, "Y")),
                kind != "usda bare",
            )
        )
    elif path.suffix == ".dae":
        path.write_text(collada(*{"dae mm": (0.001, "Z_UP"), "dae m": (1.0, "Y_UP")}[kind]))
    else:
        from_blender(path)
    return path


def boxes(objects):
    """Boxes in the world, in mm, sorted, the lowest corner of all at the origin."""
    rows = []
    for obj in objects:
        points = np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices]) * 1000
        points *= bpy.context.scene.unit_settings.scale_length
        rows.append([*points.min(axis=0), *points.max(axis=0)])
    rows = np.array(rows)
    rows -= np.tile(rows[:, :3].min(axis=0), 2)
    return rows[np.lexsort(np.round(rows, 2).T)]


def true_boxes():
    low = np.array([place for _, place in PLACES], dtype=float)
    high = low + np.array([PARTS[name] for name, _ in PLACES]) + np.array([0, 0, 1.7])
    rows = np.concatenate([low, high], axis=1)
    return rows[np.lexsort(np.round(rows, 2).T)]


def everything():
    """Names of every data-block in the file, and what the scene is set to."""
    scene, layer = bpy.context.scene, bpy.context.view_layer
    blocks = {
        prop.identifier: sorted((block.name_full, block.users) for block in getattr(bpy.data, prop.identifier))
        for prop in bpy.data.bl_rna.properties
        if prop.type == "COLLECTION"
    }
    settings = (
        scene.frame_start, scene.frame_end, scene.frame_current, scene.render.fps, scene.unit_settings.system,
        scene.unit_settings.scale_length, scene.world, scene.camera, sorted(scene.keys()),
    )  # fmt: skip
    return blocks, settings, layer.objects.active, [obj.name for obj in layer.objects if obj.select_get()]


READ_EVERYWHERE = [
    "glb", "glb scaled", "glb in mm", "gltf", "obj", "obj of objects", "stl", "stl ascii", "ply", "usda mm", "usda cm",
    "usda m", "usda bare", "usdc", "usdz", "usd", "fbx", "dae mm", "dae m",
]  # fmt: skip
SHARED = ["glb", "gltf", "obj", "stl", "stl ascii", "ply", "fbx", "dae mm", "dae m"]
SCALES = {"glb scaled": 1000 / 1.7, "glb in mm": 1.0}


@pytest.mark.parametrize("kind", READ_EVERYWHERE)
@pytest.mark.parametrize("scale_length", [1.0, 0.001])
def test_the_build_comes_back_in_its_true_place(kind, scale_length, tmp_path):
    path = write(kind, tmp_path)
    bpy.context.scene.unit_settings.scale_length = scale_length
    settings = everything()[1]
    collection, found = importers.bring(path)
    bricks = [obj for obj in collection.objects if obj.type == "MESH"]
    assert np.allclose(boxes(bricks), true_boxes(), atol=2e-3), "mm"
    assert found.share_on_lattice == 1
    assert everything()[1] == settings
    if kind in SHARED:
        assert len({brick.data for brick in bricks}) == len(PARTS)
    if kind in SCALES:
        assert found.mm_per_unit == pytest.approx(SCALES[kind], rel=1e-5)


def test_one_frame_and_one_collection_named_after_the_file(tmp_path):
    collection, _ = importers.bring(write("glb", tmp_path))
    frame = bpy.data.objects["breakwater frame"]
    assert collection.name == "breakwater"
    assert collection in list(bpy.context.scene.collection.children)
    assert [obj for obj in collection.objects if obj.parent is None] == [frame]
    assert all(obj.users_collection == (collection,) for obj in collection.objects)


def test_an_excluded_active_collection_does_not_matter(tmp_path):
    path = write("glb", tmp_path)
    shelf = bpy.data.collections.new("shelf")
    bpy.context.scene.collection.children.link(shelf)
    layer = bpy.context.view_layer
    layer.active_layer_collection = layer.layer_collection.children["shelf"]
    layer.active_layer_collection.exclude = True
    active = layer.active_layer_collection.name
    collection, _ = importers.bring(path)
    assert np.allclose(boxes([obj for obj in collection.objects if obj.type == "MESH"]), true_boxes(), atol=2e-3)
    assert layer.active_layer_collection.name == active


def test_meshes_keep_the_files_own_numbers(tmp_path):
    """Scale and turn live in the frame; the vertices are those of the file."""
    collection, found = importers.bring(write("stl", tmp_path))
    assert found.mm_per_unit == 1
    widths = {round(max(obj.data.vertices[0].co[0] * -2, 0), 3) for obj in collection.objects if obj.type == "MESH"}
    assert widths == {32, 16}


def test_split_bricks_turn_about_their_bodies_middles(tmp_path):
    collection, _ = importers.bring(write("ply", tmp_path))
    origins = sorted(tuple(np.round(obj.matrix_world.translation * 1000, 3)) for obj in collection.objects if obj.data)
    assert np.allclose(origins, sorted(tuple(middle(name, place)) for name, place in PLACES), atol=1e-3)


def like_blocks():
    """A wall of 2x2 blocks in mm whose touching faces are cut into triangles alike, vertices welded."""
    square = [(0, 0), (1, 0), (1, 1), (0, 1)]
    corners = np.array([(x, y, z) for z in (0, 1) for x, y in square], dtype=float)
    faces = [[0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4], [3, 6, 2], [3, 7, 6]]
    faces += [[1, 2, 6], [1, 6, 5], [0, 7, 3], [0, 4, 7]]
    block = trimesh.Trimesh(corners * (16, 16, 9.6), faces, process=False)
    assert block.is_watertight
    places = [(16 * x, 16 * y, 9.6 * z) for x in range(3) for y in range(3) for z in range(3)]
    whole = trimesh.util.concatenate([block.copy().apply_translation(place) for place in places])
    whole.merge_vertices()
    assert len(whole.vertices) == 4**3
    assert len(np.unique(np.sort(whole.faces, axis=1), axis=0)) < len(whole.faces)
    return whole


@pytest.mark.shared_out
@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "ply ascii", "ply with more"])
def test_touching_bricks_cut_alike_keep_every_face(kind, tmp_path):
    """Faces that lie on each other belong to two bricks; Blender's STL and PLY importers drop one of each two."""
    whole, gloss = like_blocks(), ""
    if kind == "ply with more":  # faces' colours become a material, whose gloss a PLY cannot state
        whole.visual.face_colors = np.tile([200, 10, 10, 255], (len(whole.faces), 1))
        gloss = "Not stated by the export and taken from moulded plastic"
    encoding = {"encoding": "ascii"} if kind == "ply ascii" else {}
    kind = kind.split()[0]
    whole.export(tmp_path / f"wall.{kind}", **encoding)
    collection, found = importers.bring(tmp_path / f"wall.{kind}")
    bricks = [obj for obj in collection.objects if obj.type == "MESH"]
    assert len(bricks) == 27
    assert {len(obj.data.polygons) for obj in bricks} == {12}
    assert len({obj.data for obj in bricks}) == 1
    assert [warning.partition(":")[0] for warning in found.warnings] == ([gloss] if gloss else [])


def test_what_is_split_keeps_materials_and_colours(tmp_path):
    text = objects_text().replace("o part.0004", "usemtl red\no part.0004")
    lines = [line for line in text.splitlines() if not line.startswith("o ")]
    (tmp_path / "one.mtl").write_text("newmtl red\nKd 0.8 0.1 0.1\nnewmtl blue\nKd 0.1 0.1 0.8\n")
    (tmp_path / "one.obj").write_text("\n".join(["mtllib one.mtl", "usemtl blue", *lines]) + "\n")
    collection, _ = importers.bring(tmp_path / "one.obj")
    bricks = [obj for obj in collection.objects if obj.type == "MESH"]
    names = [obj.data.materials[obj.data.polygons[0].material_index].name for obj in bricks]
    assert sorted(names) == ["blue"] * 4 + ["red"] * 5


def test_split_meshes_are_valid_and_shade_round_things_round(tmp_path):
    tube = trimesh.creation.cylinder(radius=4, height=9.6, sections=32)
    pair = trimesh.util.concatenate([tube, tube.copy().apply_translation((8, 0, 0))])
    pair.export(tmp_path / "pair.stl")
    collection, _ = importers.bring(tmp_path / "pair.stl")
    bricks = [obj for obj in collection.objects if obj.type == "MESH"]
    assert len(bricks) == 2
    mesh = bricks[0].data
    assert not mesh.validate()
    sharp = np.array([edge.use_edge_sharp for edge in mesh.edges])
    assert sharp.sum() == 64, "the two rims and nothing between them"


def test_many_open_surfaces_are_not_taken_for_bricks(tmp_path):
    """As a CAD program writes one part as surface bodies."""
    rng = np.random.default_rng(0)
    scene = trimesh.Scene()
    for number in range(40):
        patch = trimesh.creation.box(rng.uniform(0.001, 0.03, 3))
        patch.update_faces(np.arange(12) < 6)
        scene.add_geometry(
            patch, node_name=f"Body_{number}", transform=trimesh.transformations.translation_matrix(rng.random(3))
        )
    (tmp_path / "flange.glb").write_bytes(scene.export(file_type="glb"))
    _, found = importers.bring(tmp_path / "flange.glb")
    assert found.mm_per_unit == 1000
    assert any("open surfaces" in warning for warning in found.warnings)
    whole = scene.to_geometry()
    whole.export(tmp_path / "flange.stl")
    collection, found = importers.bring(tmp_path / "flange.stl")
    assert sum(obj.type == "MESH" for obj in collection.objects) == 1
    assert any("open surfaces" in warning for warning in found.warnings)


def test_lights_and_cameras_of_the_export_are_left_out(tmp_path):
    path = tmp_path / "lit.fbx"
    bpy.ops.object.light_add(type="POINT")
    light = bpy.context.object
    from_blender(path)
    bpy.data.objects.remove(light)
    collection, _ = importers.bring(path)
    assert {obj.type for obj in collection.objects} == {"MESH", "EMPTY"}


def test_nothing_is_said_on_standard_output(tmp_path, capfd):
    paths = [write(kind, tmp_path) for kind in ("glb", "obj of objects", "usda mm", "fbx")]
    capfd.readouterr()
    for path in paths:
        importers.bring(path)
    sys.stdout.flush()
    assert capfd.readouterr().out == ""


def bad_files(folder):
    """Name -> (path, words of the sentence)."""
    whole = {
        kind: write(kind, folder).read_bytes() for kind in ("glb", "stl", "stl ascii", "ply", "fbx", "usdc", "usda mm")
    }

    def cut(kind, name, share=0.6):
        path = folder / name
        path.write_bytes(whole[kind][: int(len(whole[kind]) * share)])
        return path

    def text(name, words):
        (folder / name).write_text(words)
        return folder / name

    (folder / "a.glb").mkdir()
    (folder / "nothing.glb").write_bytes(_empty_glb())
    return {
        "missing": (folder / "nowhere.glb", "does not exist"),
        "folder": (folder / "a.glb", "is a folder"),
        "unknown kind": (text("build.step", "ISO-10303-21;"), "not of a kind"),
        "no kind": (text("build", "x"), "not of a kind"),
        "no bytes": (text("none.glb", ""), "is empty"),
        "cut glb": (cut("glb", "cut.glb"), "cannot be read as glTF"),
        "cut stl": (cut("stl", "cut.stl"), "cannot be read as STL"),
        "cut ascii stl": (cut("stl ascii", "cut_a.stl"), "cannot be read as STL"),
        "cut ply": (cut("ply", "cut.ply"), "cannot be read as PLY"),
        "cut fbx": (cut("fbx", "cut.fbx"), "cannot be read as FBX"),
        "cut usdc": (cut("usdc", "cut.usdc"), "cannot be read as USD"),
        "cut usda": (cut("usda mm", "cut.usda"), "cannot be read as USD"),
        "text as glb": (text("words.glb", "not a build"), "cannot be read as glTF"),
        "text as gltf": (text("words.gltf", "not a build"), "cannot be read as glTF"),
        "text as fbx": (text("words.fbx", "not a build"), "cannot be read as FBX"),
        "text as usd": (text("words.usd", "not a build"), "cannot be read as USD"),
        "text as ply": (text("words.ply", "not a build"), "cannot be read as PLY"),
        "text as stl": (text("words.stl", "not a build"), "cannot be read as STL"),
        "text as obj": (text("words.obj", "not a build\n"), "no mesh"),
        "points only": (text("points.obj", "v 0 0 0\nv 1 0 0\n"), "no mesh"),
        "glb without mesh": (folder / "nothing.glb", "no mesh"),
        "usda without mesh": (text("nothing.usda", '#usda 1.0\ndef Xform "a" {}\n'), "no mesh"),
    }


def _empty_glb():
    import json
    import struct

    body = json.dumps({"asset": {"version": "2.0"}, "scenes": [{"nodes": [0]}], "scene": 0, "nodes": [{"name": "a"}]})
    body = body.encode().ljust(-(-len(body) // 4) * 4)
    return struct.pack("<4sIIII", b"glTF", 2, 20 + len(body), len(body), 0x4E4F534A) + body


BAD = [
    "missing", "folder", "unknown kind", "no kind", "no bytes", "cut glb", "cut stl", "cut ascii stl", "cut ply",
    "cut fbx", "cut usdc", "cut usda", "text as glb", "text as gltf", "text as fbx", "text as usd", "text as ply",
    "text as stl", "text as obj", "points only", "glb without mesh", "usda without mesh",
]  # fmt: skip


@pytest.mark.shared_out
@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_sentence_and_leaves_nothing_behind(name, tmp_path, capfd):
    path, words = bad_files(tmp_path)[name]
    bpy.ops.mesh.primitive_cube_add()
    before = everything()
    capfd.readouterr()
    with pytest.raises(FileProblem, match=words) as caught:
        importers.bring(path)
    sentence = str(caught.value)
    assert path.name in sentence
    assert "\n" not in sentence
    assert not sentence.endswith(".")
    assert everything() == before
    assert capfd.readouterr().out == ""


def test_what_the_scene_does_not_show_stands_where_blender_puts_it():
    """Places by channels and parents, off the scene, are those that Blender finds once it looks."""
    room, objects = bpy.data.collections.new("room"), []
    for number in range(4):
        obj = bpy.data.objects.new(f"o{number}", bpy.data.meshes.new("m") if number else None)
        obj.location, obj.rotation_euler, obj.scale = (number, 2, 3), (0.3, 0.1 * number, 1), (1, 2, 0.5 + number)
        obj.delta_location.x = 0.25
        if objects:
            obj.parent = objects[-1]
            obj.matrix_parent_inverse = Matrix.Rotation(0.4, 4, "X") @ Matrix.Translation((0, number, 0))
        room.objects.link(obj)
        objects.append(obj)
    found = columns.matrices(objects[1:])
    bpy.context.scene.collection.children.link(room)
    bpy.context.view_layer.update()
    assert np.allclose(found, [np.array(obj.matrix_world) for obj in objects[1:]], atol=1e-5)
    assert np.array_equal(columns.matrices(objects[1:]), [np.array(obj.matrix_world) for obj in objects[1:]])


@pytest.mark.parametrize("kind", ["obj of objects", "fbx", "usda mm", "ply"])
def test_what_is_brought_in_is_linked_up_once(kind, tmp_path):
    """Blender links up all objects anew whenever some come or go, which takes as long as reading them."""
    path, seen = write(kind, tmp_path), []
    look = lambda scene, _: seen.append(len(scene.objects))  # noqa: E731  a handler is told apart by itself
    bpy.app.handlers.depsgraph_update_post.append(look)
    try:
        importers.bring(path, tried=True)
    finally:
        bpy.app.handlers.depsgraph_update_post.remove(look)
    assert seen
    assert set(seen[:-1]) <= {0}
    assert seen[-1] > 1
