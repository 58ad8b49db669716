"""Bricks out of any objects: taken apart, put together, and every one of them standing where it did.

What was built is written with trimesh or by hand after the formats' documents, or made in Blender; where it stands is
compared vertex by vertex. Sizes: common practice of the trade, no published source.
"""

import bpy
import numpy as np
import pytest
import trimesh
from mathutils import Matrix
from trimesh.transformations import rotation_matrix

from addon.scene.exports import importers, instances, pieces, sharing
from tests.core import shapes
from tests.core.parts.test_fused import fused
from tests.core.shapes import block

STUD, NEAR_MM = 1.7, 0.02
COLOURS = {"red": (0.8, 0.1, 0.1), "blue": (0.1, 0.1, 0.8), "sand": (0.7, 0.6, 0.4)}


def tray(studs_x, studs_y, height):
    return shapes.tray((8.0 * studs_x, 8.0 * studs_y, height))


def studs(studs_x, studs_y, height):
    stud = trimesh.creation.cylinder(2.4, STUD, sections=12)
    return [
        stud.copy().apply_translation((8 * i + 4, 8 * j + 4, height + STUD / 2))
        for i, j in np.ndindex(studs_x, studs_y)
    ]


BRICKS = [
    ((4, 2, 9.6), (32 * n + 16 * (course % 2), 0, 9.6 * course), colour)
    for course in range(3)
    for n, colour in enumerate(("red", "blue"))
] + [((2, 2, 3.2), (0, 16, 0), "sand"), ((2, 1, 3.2), (16, 16, 0), "sand"), ((2, 2, 3.2), (0, 16, 3.2), "red")]


def shells(brick):
    size, at, _ = brick
    return [mesh.apply_translation(at) for mesh in (tray(*size), *studs(*size))]


def whole(brick):
    return trimesh.util.concatenate(shells(brick))


def mesh_of(name, mesh, colours=()):
    """A mesh of Blender's in metres; `colours` names the material of each triangle, or one for all."""
    made = bpy.data.meshes.new(name)
    made.from_pydata((mesh.vertices / 1000).tolist(), [], mesh.faces.tolist())
    names = list(dict.fromkeys(colours))
    for each in names:
        made.materials.append(bpy.data.materials.get(each) or bpy.data.materials.new(each))
    if len(names) > 1:
        made.polygons.foreach_set("material_index", [names.index(each) for each in colours])
    return made


def put(name, mesh, parent=None, matrix=None):
    obj = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(obj)
    obj.parent = parent
    if matrix is not None:
        obj.matrix_basis = Matrix(np.asarray(matrix).tolist())
    return obj


def moved(at):
    return trimesh.transformations.translation_matrix(np.asarray(at) / 1000)


def bricks_of(objects):
    """What becomes of objects: one a brick, meshes shared."""
    bpy.context.view_layer.update()
    found, lattice, _ = pieces.bricks(list(objects), 1000.0, 2)
    sharing.share(found, lattice.mm_per_unit)
    bpy.context.view_layer.update()
    assert lattice.mm_per_unit == pytest.approx(1000)
    return found


def places(obj):
    """Distinct vertices in the world, in mm, in order."""
    points = np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices]) * 1000
    return np.unique(points.round(2), axis=0) + 0.0


def told(mesh):
    return np.unique(np.asarray(mesh.vertices).round(2), axis=0) + 0.0


def check(objects, true):
    """Every true brick is one object that has its places, and no more."""
    left = list(objects)
    for brick in true:
        goal = told(brick)
        same = [obj for obj in left if _alike(places(obj), goal)]
        assert len(same) == 1, f"{len(same)} objects stand where {goal.min(axis=0)} to {goal.max(axis=0)} should"
        assert outward(same[0].data)
        left.remove(same[0])
    assert not left


def outward(mesh):
    mesh.calc_loop_triangles()
    faces = [triangle.vertices[:] for triangle in mesh.loop_triangles]
    return trimesh.Trimesh([vertex.co[:] for vertex in mesh.vertices], faces, process=False).volume > 0


def _alike(found, goal):
    if np.abs(found.min(axis=0) - goal.min(axis=0)).max() > NEAR_MM or len(found) > 2 * len(goal):
        return False
    far = np.linalg.norm(found[:, None] - goal[None], axis=2)
    return max(far.min(axis=0).max(), far.min(axis=1).max()) <= 2 * NEAR_MM


def colour(obj):
    assert len(obj.data.materials) == 1
    return obj.data.materials[0].name


def test_joined_by_colour():
    heaps = []
    for name in COLOURS:
        mesh = trimesh.util.concatenate([whole(brick) for brick in BRICKS if brick[2] == name])
        heaps.append(put(name, mesh_of(name, mesh, [name])))
    found = bricks_of(heaps)
    check(found, map(whole, BRICKS))
    for name in COLOURS:
        of_colour = [obj for obj in found if colour(obj) == name]
        check(of_colour, [whole(brick) for brick in BRICKS if brick[2] == name])
        assert sorted(obj.name for obj in of_colour) == [f"{name}.{n + 1}" for n in range(len(of_colour))]
    assert len({obj.data for obj in found}) == 5, "parts and colours"


@pytest.mark.parametrize("turned", [False, True])
def test_the_whole_build_in_one_mesh_with_loose_studs(turned):
    """Shells in an order of their own; the object stands anywhere."""
    heap = [(mesh, brick[2]) for brick in BRICKS for mesh in shells(brick)]
    heap = [heap[n] for n in np.random.default_rng(5).permutation(len(heap))]
    colours = [name for mesh, name in heap for _ in range(len(mesh.faces))]
    pose = moved((200, -70, 30)) @ trimesh.transformations.rotation_matrix(np.pi / 2 * turned, (0, 0, 1))
    obj = put("build", mesh_of("build", trimesh.util.concatenate([mesh for mesh, _ in heap]), colours), None, pose)
    found = bricks_of([obj])
    pose[:3, 3] *= 1000
    check(found, [whole(brick).apply_transform(pose) for brick in BRICKS])
    assert sorted(map(colour, found)) == sorted(name for _, _, name in BRICKS)
    assert "build" not in bpy.data.objects


def row(count, at):
    """Upright blocks that touch, the faces between them left out."""
    return fused(*[block((8, 8, 9.6), np.add(at, (8 * n, 0, 0))) for n in range(count)])


def test_solids_of_several_bricks_come_apart_where_faces_were_left_out():
    alone = [block((16, 8, 9.6), (32 * n, 0, 0)) for n in range(8)]
    heap = put("build", mesh_of("build", trimesh.util.concatenate([*alone, row(3, (0, 16, 0))])))
    bpy.context.view_layer.update()
    found, _, lines = pieces.bricks([heap], 1000.0, 2)
    check(found[:8], alone)
    for n, obj in enumerate(found[8:]):
        assert places(obj) == pytest.approx(told(block((8, 8, 9.6), (8 * n, 16, 0))), abs=1e-3)
    assert lines == ("3 of 11 bricks have holes where they touch others: export with clearance, or as .glb or .stl.",)


def test_where_most_solids_have_rings_they_stay_and_it_is_said():
    """A brick that is drawn as cells of a stud each cannot be told from bricks of a stud each, fused."""
    drawn = [row(2, (32 * n, 0, 0)) for n in range(8)]
    heap = put("build", mesh_of("build", trimesh.util.concatenate(drawn)))
    bpy.context.view_layer.update()
    found, _, lines = pieces.bricks([heap], 1000.0, 2)
    check(found, drawn)
    assert len(lines) == 1
    assert lines[0].startswith("8 solids, as one in build, may be several bricks each that cannot be told apart")


def test_studs_that_are_children_join_their_brick_and_share_its_mesh():
    known, bodies = {}, []
    for number, (size, at, name) in enumerate(BRICKS):
        if (size, name) not in known:
            known[size, name] = mesh_of(f"body {name}", tray(*size), [name])
        body = put(f"body {number}", known[size, name], None, moved(at))
        round_ = trimesh.creation.cylinder(2.4, STUD, sections=12)
        if ("stud", name) not in known:
            known["stud", name] = mesh_of(f"stud {name}", round_, [name])
        for mesh in studs(*size):
            put("stud", known["stud", name], body, moved(mesh.bounds.mean(axis=0)))
        bodies.append(body)
    found = bricks_of(obj for obj in bpy.context.scene.objects)
    check(found, map(whole, BRICKS))
    assert set(found) == set(bodies), "objects of the export stay"
    assert len({obj.data for obj in found}) == len({(size, name) for size, _, name in BRICKS})
    assert not [obj for obj in bpy.data.objects if obj.name.startswith("stud")]


@pytest.mark.shared_out
@pytest.mark.parametrize("joined", [True, False])
@pytest.mark.parametrize("unit", [1.0, 10.0])
def test_a_build_turned_in_its_points_is_read_along_its_own_axes(joined, unit):
    """STL, PLY and OBJ have no transforms: a build at an angle, on its side too, has it in its points."""
    pose = rotation_matrix(np.radians(37), (0, 0, 1)) @ rotation_matrix(np.pi / 2, (1, 0, 0))
    true = [whole(brick).apply_transform(pose) for brick in BRICKS]
    solids = [trimesh.util.concatenate(true)] if joined else true
    for number, solid in enumerate(solids):
        put(f"solid {number}", mesh_of(f"solid {number}", solid.copy().apply_scale(unit), ["red"]))
    bpy.context.view_layer.update()
    found, lattice, _ = pieces.bricks(list(bpy.context.scene.objects), 1000.0, 2)
    sharing.share(found, lattice.mm_per_unit)
    bpy.context.view_layer.update()
    assert lattice.mm_per_unit == pytest.approx(1000 / unit)
    assert np.allclose(lattice.sign * lattice.turned[lattice.up], pose[:3, 2], atol=1e-6)
    check(found, [solid.apply_scale(unit) for solid in true])
    for obj in found:
        lies = lattice.turned @ np.array(obj.matrix_world.to_3x3())
        assert np.abs(lies).max(axis=1) == pytest.approx(1.0, abs=1e-5), "its mesh lies along the bricks"


def test_a_wing_turned_in_its_points_gets_its_turn_back():
    wing = rotation_matrix(np.radians(30), (0, 0, 1))
    wing[:3, 3] = (150, 0, 0)
    section = [whole(((4, 2, 9.6), (0, 0, 9.6 * n), "red")).apply_transform(wing) for n in range(2)]
    true = [whole(brick) for brick in BRICKS] + section
    put("all", mesh_of("all", trimesh.util.concatenate(true), ["red"]))
    found = bricks_of(obj for obj in bpy.context.scene.objects)
    check(found, true)
    turned = [obj for obj in found if np.abs(np.array(obj.matrix_world.to_3x3())).max(axis=1).min() < 0.9]
    assert len(turned) == 2
    for obj in turned:
        size = np.ptp(np.array(obj.bound_box), axis=0) * 1000
        assert sorted(size) == pytest.approx([9.6 + STUD, 16, 32], abs=0.01)


def test_bricks_of_stretched_cubes_and_cylinders():
    """A scene graph that knows two shapes: each brick is a group of a stretched cube and of stretched rounds."""
    cube = mesh_of("cube", trimesh.creation.box((1000, 1000, 1000)), ["red"])
    round_ = mesh_of("round", trimesh.creation.cylinder(500, 1000, sections=12), ["red"])
    true = []
    for number, (size, at, _) in enumerate(BRICKS):
        group, solid = put(f"group {number}", None, None, moved(at)), (8 * size[0], 8 * size[1], size[2])
        body = block(solid)
        put("body", cube, group, moved(body.bounds.mean(axis=0)) @ np.diag([*np.array(solid) / 1000, 1.0]))
        for mesh in studs(*size):
            put("stud", round_, group, moved(mesh.bounds.mean(axis=0)) @ np.diag([0.0048, 0.0048, STUD / 1000, 1.0]))
        true.append(trimesh.util.concatenate([body, *studs(*size)]).apply_translation(at))
    check(bricks_of(obj for obj in bpy.context.scene.objects if obj.type == "MESH"), true)


def test_collection_instances_become_objects_that_share():
    models = {}
    for size, _, name in BRICKS:
        if (size, name) not in models:
            models[size, name] = bpy.data.collections.new(f"model {name}")
            mesh = trimesh.util.concatenate([tray(*size), *studs(*size)])
            models[size, name].objects.link(bpy.data.objects.new("model", mesh_of("model", mesh, [name])))
    empties = []
    for size, at, name in BRICKS:
        empty = put("brick", None, None, moved(at))
        empty.instance_type, empty.instance_collection = "COLLECTION", models[size, name]
        empties.append(empty)
    bpy.context.view_layer.update()
    found = bricks_of(instances.made_real(empties))
    check(found, map(whole, BRICKS))
    assert len({obj.data for obj in found}) == len(models)


def usda_points():
    """A point instancer: prototypes beneath it, a position and a turn a brick."""
    kinds = list(dict.fromkeys((size, name) for size, _, name in BRICKS))
    protos, text = [], []
    for number, (size, _) in enumerate(kinds):
        mesh = trimesh.util.concatenate([tray(*size), *studs(*size)])
        protos.append(f"</build/bricks/protos/p{number}>")
        points = ", ".join(map(str, map(tuple, mesh.vertices.tolist())))
        text.append(f"""
            def Mesh "p{number}" {{
                int[] faceVertexCounts = {[3] * len(mesh.faces)}
                int[] faceVertexIndices = {mesh.faces.ravel().tolist()}
                point3f[] points = [{points}]
                uniform token subdivisionScheme = "none"
            }}""")
    where = ", ".join(str(tuple(map(float, at))) for _, at, _ in BRICKS)
    which = [kinds.index((size, name)) for size, _, name in BRICKS]
    return f"""#usda 1.0
(
    defaultPrim = "build"
    metersPerUnit = 0.001
    upAxis = "Z"
)
def Xform "build" {{
    def PointInstancer "bricks" {{
        int[] protoIndices = {which}
        point3f[] positions = [{where}]
        quath[] orientations = [{", ".join(["(1, 0, 0, 0)"] * len(BRICKS))}]
        rel prototypes = [{", ".join(protos)}]
        def Scope "protos" {{{"".join(text)}
        }}
    }}
}}
"""


def test_a_usd_point_instancer_is_as_many_bricks_as_it_shows(tmp_path):
    (tmp_path / "points.usda").write_text(usda_points())
    collection, _ = importers.bring(tmp_path / "points.usda")
    found = [obj for obj in collection.all_objects if obj.type == "MESH"]
    check(found, map(whole, BRICKS))
    assert len({obj.data for obj in found}) == len({size for size, _, _ in BRICKS}), "none has a colour here"


def test_nested_groups_that_scale_and_mirror():
    """Groups in groups, one of them a mirror; what hangs in them undoes it."""
    above = put("root", None, None, np.diag([0.1, 0.1, 0.1, 1]))
    mirror = put("mirror", None, above, moved((500, 20, 0)) @ np.diag([-10.0, 10, 10, 1]))
    undone = np.linalg.inv(moved((500, 20, 0)) @ np.diag([-10.0, 10, 10, 1])) @ np.diag([10.0, 10, 10, 1])
    objects = []
    for number, (size, at, name) in enumerate(BRICKS):
        mesh = trimesh.util.concatenate([tray(*size), *studs(*size)])
        parent = (mirror, None)[number % 2]
        pose = undone @ moved(at) if parent else moved(at)
        objects.append(put(f"brick {number}", mesh_of(f"m{number}", mesh, [name]), parent, pose))
    found = bricks_of(objects)
    assert set(found) == set(objects)
    check(found, map(whole, BRICKS))
    assert len({obj.data for obj in found}) == len({(size, name) for size, _, name in BRICKS})


def test_a_joined_mesh_in_a_mirrored_group_comes_apart_in_place():
    group = put("mirror", None, None, np.diag([-1.0, 1, 1, 1]))
    mesh = trimesh.util.concatenate([whole(brick) for brick in BRICKS])
    found = bricks_of([put("build", mesh_of("build", mesh), group)])
    check(found, [whole(brick).apply_transform(np.diag([-1.0, 1, 1, 1])) for brick in BRICKS])
    assert {obj.parent for obj in found} == {group}


def test_with_noise_and_other_colours_equal_parts_share_their_shape():
    rng, objects = np.random.default_rng(3), []
    for number, (size, at, name) in enumerate(BRICKS):
        mesh = trimesh.util.concatenate([tray(*size), *studs(*size)])
        mesh.vertices += rng.uniform(-5e-3, 5e-3, mesh.vertices.shape)
        objects.append(put(f"brick {number}", mesh_of(f"m{number}", mesh, [name]), None, moved(at)))
    found = bricks_of(objects)
    check(found, map(whole, BRICKS))
    kinds = {}
    for obj, (size, _, name) in zip(objects, BRICKS, strict=True):
        assert colour(obj) == name
        kinds.setdefault((size, name), set()).add(obj.data)
    assert all(len(meshes) == 1 for meshes in kinds.values())
    by_size = {}
    for (size, _), (mesh,) in kinds.items():
        by_size.setdefault(size, []).append(np.array([vertex.co for vertex in mesh.vertices]))
    assert all((points == same[0]).all() for same in by_size.values() for points in same), "one shape in all colours"


def test_what_other_objects_hang_on_leaves_an_empty_in_its_place():
    mesh = trimesh.util.concatenate([whole(brick) for brick in BRICKS])
    obj = put("build", mesh_of("build", mesh), None, moved((40, 8, 0)))
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "POINT"))
    bpy.context.scene.collection.objects.link(lamp)
    lamp.parent, lamp.location = obj, (0, 0, 0.3)
    found = bricks_of([obj])
    assert len(found) == len(BRICKS)
    assert lamp.parent is not None
    assert lamp.parent.type == "EMPTY"
    assert np.allclose(lamp.matrix_world.translation, (0.04, 0.008, 0.3))


def test_prints_and_colours_of_vertices_are_kept():
    """A tile's picture coordinates and its vertices' colours come out of the joined mesh as they went in."""
    mesh = trimesh.util.concatenate([whole(brick) for brick in BRICKS])
    data = mesh_of("build", mesh)
    layer, shade = data.uv_layers.new(name="print"), data.color_attributes.new("shade", "FLOAT_COLOR", "POINT")
    corner = np.array([loop.vertex_index for loop in data.loops])
    points = np.array([vertex.co for vertex in data.vertices])
    layer.uv.foreach_set("vector", (points[corner][:, :2] * 10).ravel())
    shade.data.foreach_set("color", np.c_[points * 10, np.ones(len(points))].ravel())
    bpy.context.view_layer.update()
    found, _, _ = pieces.bricks([put("build", data)], 1000.0, 2)
    bpy.context.view_layer.update()
    check(found, map(whole, BRICKS))
    for obj in found:
        world = np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices])
        own = np.array([loop.vertex_index for loop in obj.data.loops])
        uv = np.array([each.vector for each in obj.data.uv_layers["print"].uv])
        colours = np.array([each.color for each in obj.data.color_attributes["shade"].data])
        assert np.allclose(uv, world[own][:, :2] * 10, atol=1e-5)
        assert np.allclose(colours[:, :3], world * 10, atol=1e-5)


def test_kept_objects_stay_as_they_were(tmp_path):
    scene = trimesh.Scene()
    for number in range(3):
        heap = [whole(brick) for brick in BRICKS[number::3]]
        mesh = trimesh.util.concatenate(heap)
        mesh.apply_transform(np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1.0]])).apply_scale(0.001)
        scene.add_geometry(mesh, node_name=f"heap {number}", geom_name=f"heap {number}")
    scene.export(tmp_path / "kept.glb")
    collection, _ = importers.bring(tmp_path / "kept.glb", keep_objects=True)
    found = [obj for obj in collection.all_objects if obj.type == "MESH"]
    assert sorted(obj.name for obj in found) == ["heap 0", "heap 1", "heap 2"]
    check(found, [trimesh.util.concatenate([whole(brick) for brick in BRICKS[number::3]]) for number in range(3)])
    assert len(importers.bring(tmp_path / "kept.glb")[0].all_objects) == len(BRICKS) + 1, "and the frame"


def test_meshes_written_out_again_are_one_and_what_differs_is_not():
    """Number for number: a normal, a colour, a place on a picture, a material or a corner more keeps a mesh apart."""

    def copy(change=lambda mesh: None):
        mesh = tray(2, 2, 9.6)
        data = bpy.data.meshes.new("copy")
        data.from_pydata(mesh.vertices, [], mesh.faces.tolist())
        data.materials.append(material)
        data.uv_layers.new(name="st")
        tint = data.color_attributes.new("tint", "FLOAT_COLOR", "POINT")
        tint.data.foreach_set("color", np.ones(4 * len(data.vertices), np.float32))
        data.uv_layers["st"].uv.foreach_set("vector", np.zeros(2 * len(data.loops), np.float32))
        data.normals_split_custom_set(np.tile([0.0, 0, 1], (len(data.loops), 1)))
        change(data)
        obj = bpy.data.objects.new("copy", data)
        bpy.context.scene.collection.objects.link(obj)
        return obj

    def tipped(mesh):
        mesh.normals_split_custom_set(np.tile([0.0, 0.6, 0.8], (len(mesh.loops), 1)))

    def other_material(mesh):
        mesh.materials[0] = bpy.data.materials.new("other")

    def dyed(mesh):
        mesh.color_attributes["tint"].data[3].color = (1, 0, 0, 1)

    def printed(mesh):
        mesh.uv_layers["st"].uv[3].vector = (0.5, 0.5)

    def moved_inside(mesh):
        mesh.vertices[5].co.x += 0.01

    material = bpy.data.materials.new("plain")
    changes = (tipped, other_material, dyed, printed, moved_inside)
    objects = [copy() for _ in range(3)] + [copy(change) for change in changes]
    sharing.copies(objects)
    assert len({obj.data for obj in objects[:3]}) == 1
    assert objects[0].data.users == 3
    assert len({obj.data for obj in objects}) == 1 + len(changes)
    assert len(bpy.data.meshes) == 1 + len(changes)


def test_copies_written_out_where_they_stand_become_one_mesh():
    """As OBJ, which knows no nodes, writes each brick: the same lists, its points elsewhere, rounded."""
    rng = np.random.default_rng(0)
    places, objects = rng.uniform(-2, 2, (12, 3)), []
    for place in places:
        mesh = bpy.data.meshes.new("m")
        mesh.from_pydata((np.array(CORNERS) + place).astype(np.float32), [], SIDES)
        objects.append(bpy.data.objects.new("o", mesh))
        bpy.context.scene.collection.objects.link(objects[-1])
    other = objects[5].data
    other.vertices[3].co.x += 1e-5
    child = bpy.data.objects.new("child", None)
    child.parent = objects[7]
    bpy.context.scene.collection.objects.link(child)
    held = objects[7].data
    stood = [[vertex.co.copy() for vertex in obj.data.vertices] for obj in objects]
    sharing.copies(objects, may_move=True)
    bpy.context.view_layer.update()
    assert objects[5].data == other
    assert objects[7].data == held
    assert len({obj.data for obj in objects}) == 3
    for obj, points in zip(objects, stood, strict=True):
        now = [obj.matrix_world @ vertex.co for vertex in obj.data.vertices]
        assert np.allclose(now, points, atol=1e-6)


CORNERS = [(0, 0, 0), (0.016, 0, 0), (0.016, 0.016, 0), (0, 0.016, 0)]
CORNERS += [(x, y, 0.0096) for x, y, _ in CORNERS]
SIDES = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
