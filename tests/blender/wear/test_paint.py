"""What an artist painted on a part is on its rounded mesh too, also where it changes within a flat face."""

import bmesh
import bpy
import numpy as np
import pytest
from mathutils import Matrix
from mathutils.bvhtree import BVHTree
from mathutils.geometry import barycentric_transform

from addon import usecases
from addon.scene.wear.rounded import Raw, rounded
from bench.ways.workshop import workshop
from tests.blender.build import versions
from tests.blender.scenes import PRESET, collection, put, textures
from tests.blender.wear.renders import cube, glossy

RADIUS_MM, SIDE_MM, CELLS = 0.3, 24.0, 12
KINDS = {"FLOAT": "value", "FLOAT_COLOR": "color", "FLOAT_VECTOR": "vector"}
SQUARE_MM, BLUR_MM = 4.0, 2.0


def tile():
    """A box of 24 mm a side and 8 mm high, its faces cut into squares of 2 mm."""
    brick = cube(SIDE_MM, glossy())
    mesh = brick.data
    for point in mesh.vertices:
        point.co.z /= 3.0
    shape = bmesh.new()
    shape.from_mesh(mesh)
    bmesh.ops.subdivide_edges(shape, edges=list(shape.edges), cuts=CELLS - 1, use_grid_fill=True)
    shape.to_mesh(mesh)
    shape.free()
    return brick


def spot(place):
    """1 in a square in the middle of the top, 0 from 2 mm around it: straight between."""
    x, y, z = place
    away = max(abs(x), abs(y)) - SQUARE_MM
    return float(np.clip(1.0 - away / BLUR_MM, 0.0, 1.0)) if z > 0.0 else 0.0


def round_one(brick):
    mesh = brick.data
    points = np.array([point.co[:] for point in mesh.vertices])
    (made,) = rounded([Raw(mesh, points, np.ones(3), np.zeros(3))], RADIUS_MM)
    assert not isinstance(made, str), made
    return made


def told_at(mesh, values, places):
    """What a mesh shows at places, from values at the corners of its triangles."""
    mesh.calc_loop_triangles()
    triangles = mesh.loop_triangles
    tree = BVHTree.FromPolygons([point.co for point in mesh.vertices], [each.vertices[:] for each in triangles])
    found = []
    for place in places:
        at, _, number, _ = tree.find_nearest(place)
        corners = [mesh.vertices[n].co for n in triangles[number].vertices]
        weight = barycentric_transform(at, *corners, *Matrix.Identity(3))
        found.append(sum(w * values[loop] for w, loop in zip(weight, triangles[number].loops, strict=True)))
    return np.array(found)


def at_corners(mesh, name):
    layer = mesh.attributes[name]
    values = np.array([np.atleast_1d(getattr(each, KINDS[layer.data_type]))[0] for each in layer.data], float)
    of_corner = [loop.vertex_index for loop in mesh.loops]
    return values[of_corner] if layer.domain == "POINT" else values


def weights_at_corners(mesh):
    own = [{each.group: each.weight for each in point.groups}.get(0, 0.0) for point in mesh.vertices]
    return np.array(own)[[loop.vertex_index for loop in mesh.loops]]


def places():
    """On the top, clear of its rim."""
    ways = np.linspace(-10.5, 10.5, 15) + 0.31
    return [(x, y, 4.0) for x in ways for y in ways]


@pytest.mark.parametrize("kind", ["FLOAT", "FLOAT_COLOR", "FLOAT_VECTOR"])
@pytest.mark.parametrize("domain", ["POINT", "CORNER"])
def test_an_attribute_that_changes_within_a_face_is_on_the_rounded_mesh(kind, domain):
    brick = tile()
    mesh = brick.data
    layer = mesh.attributes.new("worn here", kind, domain)
    own = range(len(mesh.vertices)) if domain == "POINT" else [loop.vertex_index for loop in mesh.loops]
    for each, n in zip(layer.data, own, strict=True):
        value = spot(mesh.vertices[n].co)
        setattr(each, KINDS[kind], value if kind == "FLOAT" else [value] * (3 if kind == "FLOAT_VECTOR" else 4))
    made = round_one(brick)
    wanted = np.array([spot(place) for place in places()])
    assert 0.05 < wanted.mean() < 0.5
    assert told_at(mesh, at_corners(mesh, "worn here"), places()) == pytest.approx(wanted, abs=0.3)  # of squares of 2
    seen = told_at(made, at_corners(made, "worn here"), places())
    assert seen == pytest.approx(told_at(mesh, at_corners(mesh, "worn here"), places()), abs=1e-3)


def test_a_face_painted_whole_stays_within_its_rim():
    """Marks a face of squares; an attribute of faces is read at each."""
    brick = tile()
    mesh = brick.data
    layer = mesh.attributes.new("worn here", "FLOAT", "FACE")
    for face, each in zip(mesh.polygons, layer.data, strict=True):
        each.value = float(face.center.z > 3.9 and face.center.x > 0.0)
    made = round_one(brick)
    values = np.array([each.value for each in made.attributes["worn here"].data])
    for face, value in zip(made.polygons, values, strict=True):
        if face.normal.z > 0.9999:
            assert value == (face.center.x > 0.0)


def test_weights_that_change_within_a_face_are_on_the_rounded_mesh():
    brick = tile()
    group = brick.vertex_groups.new(name="worn here")
    for point in brick.data.vertices:
        if weight := spot(point.co):
            group.add([point.index], weight, "REPLACE")
    made = round_one(brick)
    before = told_at(brick.data, weights_at_corners(brick.data), places())
    assert before.max() > 0.99
    assert told_at(made, weights_at_corners(made), places()) == pytest.approx(before, abs=1e-3)


def split_faces(mesh):
    """Every face with points of its own, as CAD writes them."""
    faces = [[mesh.vertices[n].co[:] for n in face.vertices] for face in mesh.polygons]
    made = bpy.data.meshes.new("split")
    corners = iter(range(sum(map(len, faces))))
    made.from_pydata([place for face in faces for place in face], [], [[next(corners) for _ in face] for face in faces])
    return made


@pytest.mark.parametrize("how", ["attribute", "group"])
def test_a_face_of_split_points_keeps_its_value(how):
    """An attribute stays within the face; the weights of a group, which points alone have, reach its rim at least."""
    brick = cube(SIDE_MM, glossy())
    brick.data = split_faces(brick.data)
    mesh = brick.data
    (top,) = (face for face in mesh.polygons if face.normal.z > 0.9)
    if how == "attribute":
        layer = mesh.attributes.new("worn here", "FLOAT", "POINT")
        for n in top.vertices:
            layer.data[n].value = 1.0
    else:
        brick.vertex_groups.new(name="worn here").add(list(top.vertices), 1.0, "REPLACE")
    made = round_one(brick)
    values = at_corners(made, "worn here") if how == "attribute" else weights_at_corners(made)
    for face in made.polygons:
        seen = values[face.loop_start : face.loop_start + face.loop_total]
        if face.normal.z > 0.9999:
            assert seen == pytest.approx(1.0)
        elif how == "attribute" and max(face.normal) < 0.9999 and face.normal.z < 0.0001:
            assert seen == pytest.approx(0.0, abs=1e-6)


def test_what_is_even_costs_no_face():
    """A colour or a weight of one value all over changes nothing of how a mesh is rounded."""
    bare = round_one(tile())
    brick = tile()
    for name, kind, domain in (("a", "FLOAT", "POINT"), ("b", "FLOAT_COLOR", "CORNER"), ("c", "INT", "FACE")):
        brick.data.attributes.new(name, kind, domain)
    brick.vertex_groups.new(name="d").add(range(len(brick.data.vertices)), 0.5, "REPLACE")
    made = round_one(brick)
    assert len(made.polygons) == len(bare.polygons)
    assert [point.co[:] for point in made.vertices] == [point.co[:] for point in bare.vertices]


def test_parts_alike_but_for_their_paint_each_keep_their_own(extension, tmp_path):
    """Two bricks of one shape from one workshop, each with weights and an attribute of its own."""
    del extension
    drawn = textures(tmp_path)
    build = collection()
    things = []
    for n in range(4):
        brick = tile()
        bpy.context.scene.collection.objects.unlink(brick)
        mesh = brick.data
        mesh.transform(Matrix.Scale(0.001, 4))
        thing = put(build, mesh, f"tile.{n}", (0.024 * n, 0.0, 0.0))
        layer = mesh.attributes.new("worn here", "FLOAT", "POINT")
        for point, each in zip(mesh.vertices, layer.data, strict=True):
            each.value = 0.2 * n * (point.co.z > 0.0)
        things.append(thing)
    usecases.apply(build, PRESET, usecases.Dials(textures=drawn, rounding="geometry"))
    assert all("playworn_shape" in thing.data for thing in things)
    for n, thing in enumerate(things):
        assert max(each.value for each in thing.data.attributes["worn here"].data) == pytest.approx(0.2 * n)


@pytest.mark.shared_out
def test_a_workshop_whose_parts_are_all_painted_is_rounded_and_what_cannot_be_is_listed(extension, tmp_path):
    """Noise in every point, the worst there can be: each seam of each face stays. Two wings of 40 bricks have no room
    for their seams; they keep their edges and their paint."""
    del extension
    drawn = textures(tmp_path)
    build = usecases.bring_in(versions.export(tmp_path, "plain", workshop(40)))
    rng = np.random.default_rng(4)
    for mesh in {thing.data for thing in build.all_objects if thing.type == "MESH"}:
        layer = mesh.attributes.new("worn here", "FLOAT", "POINT")
        layer.data.foreach_set("value", rng.random(len(mesh.vertices)).astype(np.float32))
    told = usecases.apply(build, PRESET, usecases.Dials(textures=drawn, rounding="geometry"))
    things = [thing for thing in build.all_objects if thing.type == "MESH"]
    sharp = {thing.name for thing in things if "playworn_shape" not in thing.data}
    assert sharp == {each.object for each in told.skipped}
    assert len(sharp) <= 2
    for thing in things:
        assert np.ptp(at_corners(thing.data, "worn here")) > 0.3
