"""Rounded twins: their shape against circles and solids, and the way back."""

from dataclasses import replace

import bmesh
import bpy
import numpy as np
import pytest
import trimesh

from addon import usecases
from addon.core.wear.quality import GEOMETRY
from addon.demo.parts import PARTS
from addon.nodes import builder
from addon.nodes.groups.mesh_edges import mesh_edges
from addon.nodes.groups.rounding import rounding
from addon.scene.build.build import read
from addon.scene.wear import originals, rounded, twins
from addon.scene.wear.rounded import Raw
from tests.blender.scenes import PRESET, brick_mesh, put, transforms, wall
from tests.blender.wear import renders

pytestmark = pytest.mark.usefixtures("extension")

DIALS = usecases.Dials(seed=7, rounding=GEOMETRY)
RADIUS_MM = 0.25


def box(*sides_mm: float) -> bpy.types.Mesh:
    mesh, work = bpy.data.meshes.new("box"), bmesh.new()
    bmesh.ops.create_cube(work, size=1.0)
    bmesh.ops.scale(work, vec=sides_mm, verts=work.verts)
    bmesh.ops.triangulate(work, faces=work.faces)
    work.to_mesh(mesh)
    work.free()
    return mesh


def part_mesh(name: str) -> bpy.types.Mesh:
    """As an export has it: triangles, and vertices split at sharp edges."""
    drawn, mesh = PARTS[name].mesh(), bpy.data.meshes.new(name)
    mesh.from_pydata(drawn.positions.tolist(), [], drawn.triangles.tolist())
    return mesh


def points(mesh: bpy.types.Mesh) -> np.ndarray:
    return np.array([vertex.co[:] for vertex in mesh.vertices])


def round_one(mesh: bpy.types.Mesh, scale=(1.0, 1.0, 1.0), radius_mm: float = RADIUS_MM) -> bpy.types.Mesh | str:
    (made,) = rounded.rounded([Raw(mesh, points(mesh) * scale, np.array(scale), np.zeros(3))], radius_mm)
    return made


def solid(mesh: bpy.types.Mesh) -> trimesh.Trimesh:
    mesh.calc_loop_triangles()
    welded = trimesh.Trimesh(points(mesh), [list(each.vertices) for each in mesh.loop_triangles], process=False)
    welded.merge_vertices(digits_vertex=5)
    return welded


def within(mesh: bpy.types.Mesh) -> np.ndarray:
    return np.array([each.value for each in mesh.attributes[rounded.EDGE].data])


def blocks() -> dict[str, list[str]]:
    return {
        prop.identifier: sorted(block.name for block in getattr(bpy.data, prop.identifier))
        for prop in bpy.data.bl_rna.properties
        if prop.type == "COLLECTION"
    }


def test_an_edge_is_a_circle_of_the_radius_in_mm_whatever_the_scale():
    sides, scale = np.array([8.0, 12.0, 9.6]), (1000.0, 500.0, 250.0)
    made = round_one(box(*(sides / scale)), scale)
    placed, edge = np.abs(points(made) * scale), within(made) > 0
    inner = sides / 2 - RADIUS_MM  # where the circles have their middles
    along_x = edge & (placed[:, 0] < inner[0] + 1e-4)
    assert np.hypot(*(placed[along_x] - inner)[:, 1:].T) == pytest.approx(RADIUS_MM, abs=2e-4)
    assert placed.max(axis=0) == pytest.approx(sides / 2, abs=1e-5)


def test_an_edge_of_any_angle_has_the_radius():
    """A prism on an equilateral triangle: arcs of 120 degrees touch the faces radius x tan 60 from the edge."""
    mesh = bpy.data.meshes.new("prism")
    corners = [(8.0 * np.cos(t), 8.0 * np.sin(t)) for t in np.radians((90.0, 210.0, 330.0))]
    mesh.from_pydata(
        [(x, y, z) for z in (-5.0, 5.0) for x, y in corners],
        [],
        [(2, 1, 0), (3, 4, 5), (0, 1, 4, 3), (1, 2, 5, 4), (2, 0, 3, 5)],
    )
    made = round_one(mesh)
    placed, edge = points(made), within(made) > 0
    middle = np.array(corners) * (1.0 - 2.0 * RADIUS_MM / 8.0)  # a circle in a corner of 60 degrees
    level = placed[edge & (np.abs(placed[:, 2]) < 5.0 - RADIUS_MM + 1e-4)][:, :2]
    away = np.linalg.norm(level[:, None] - middle, axis=2).min(axis=1)
    assert len(level)
    assert away == pytest.approx(RADIUS_MM, rel=0.13)  # Blender draws so wide an arc not quite as a circle


def test_flat_faces_stay_flat_and_arcs_turn_from_one_to_the_other():
    mesh = round_one(box(8.0, 12.0, 9.6))
    edge = within(mesh)
    for face in mesh.polygons:
        if not any(edge[n] for n in face.vertices) and face.area > 1.0:
            for corner in face.loop_indices:
                assert mesh.corner_normals[corner].vector.dot(face.normal) > 1.0 - 1e-5
    for corner, told in zip(mesh.loops, mesh.corner_normals, strict=True):
        out = np.sign(points(mesh)[corner.vertex_index]) @ np.array(told.vector)
        assert out > 0.99  # outwards in all its octant


@pytest.mark.shared_out
@pytest.mark.parametrize("name", sorted(set(PARTS) - {"plate_8x8", "plate_6x8", "plate_4x8"}))
def test_every_part_is_rounded_and_stays_a_solid_in_its_box(name):
    mesh = part_mesh(name)
    before, made = solid(mesh), round_one(mesh, radius_mm=0.2)
    assert isinstance(made, bpy.types.Mesh), made
    after = solid(made)
    assert after.is_watertight
    assert after.is_winding_consistent
    true_rounds = np.pi / 24 / (np.sin(np.pi / 24) * np.cos(np.pi / 24))  # times the area of their 24 sides
    assert 0.9 * before.volume < after.volume < true_rounds * before.volume
    assert after.bounds == pytest.approx(before.bounds, abs=0.6)
    assert (after.bounds[1] <= before.bounds[1] + 1e-3).all()
    assert (after.bounds[0] >= before.bounds[0] - 1e-3).all()


def test_solids_that_touch_along_edges_are_rounded_each_by_itself():
    """A seat and its back that share two corners: as large as both, less what roundings of both take off."""
    drawn = [trimesh.creation.box(bounds=ends) for ends in (((0, 0, 0), (16, 16, 3)), ((0, 13, 3), (16, 16, 14)))]
    mesh, whole = bpy.data.meshes.new("seat"), trimesh.util.concatenate(drawn)
    mesh.from_pydata(whole.vertices.tolist(), [], whole.faces.tolist())
    made, (seat, back) = round_one(mesh), (round_one(box(*each.extents.tolist())) for each in drawn)
    volume = sum(solid(each).volume for each in (seat, back))
    assert solid(made).volume == pytest.approx(volume, rel=1e-4)


def test_a_thin_sheet_is_rounded_by_what_it_has_room_for():
    made = points(round_one(box(8.0, 8.0, 0.3), radius_mm=0.2))
    assert np.unique(np.abs(made[:, 2]).round(4)).min() == pytest.approx(0.15 - 0.45 * 0.3, abs=1e-3)


def test_broken_meshes_are_rounded_or_refused_never_worse():
    sheet = bpy.data.meshes.new("sheet")
    sheet.from_pydata([(0, 0, 0), (8, 0, 0), (8, 8, 0), (0, 8, 0)], [], [(0, 1, 2, 3)])
    assert "encloses nothing" in round_one(sheet)
    line = bpy.data.meshes.new("line")
    line.from_pydata([(0, 0, 0), (1, 0, 0), (2, 0, 0)], [], [(0, 1, 2)])
    assert isinstance(round_one(line), str)
    doubled = box(8.0, 8.0, 8.0)  # a wall of no thickness grows out of a side
    work = bmesh.new()
    work.from_mesh(doubled)
    a, b = work.verts[:2]
    out = [work.verts.new(vert.co * 2.0) for vert in (b, a)]
    work.faces.new((a, b, *out))
    work.to_mesh(doubled)
    work.free()
    assert isinstance(round_one(doubled), str | bpy.types.Mesh)


def test_a_body_that_is_inside_out_is_rounded_as_one_that_is_not():
    inside_out = box(8.0, 12.0, 9.6)
    inside_out.flip_normals()
    made, meant = (solid(round_one(mesh)) for mesh in (inside_out, box(8.0, 12.0, 9.6)))
    assert made.is_winding_consistent
    assert made.volume == pytest.approx(meant.volume, rel=1e-6)  # below 0 where it still is inside out


@pytest.mark.parametrize("name", ["brick_1x2", "plate_2x3", "tile_1x4"])
def test_points_that_are_spread_by_micrometres_do_not_keep_a_body_from_being_rounded(name):
    """The outline that the export has is not left all the same."""
    spread = part_mesh(name)
    corners, number = np.unique(points(spread), axis=0, return_inverse=True)
    corners += np.random.default_rng(0).uniform(-1e-3, 1e-3, corners.shape)
    spread.vertices.foreach_set("co", corners[number.ravel()].ravel())
    low, high = points(spread).min(axis=0), points(spread).max(axis=0)
    made = round_one(spread, radius_mm=0.2)
    assert isinstance(made, bpy.types.Mesh), made
    assert (points(made) >= low - 1e-6).all()
    assert (points(made) <= high + 1e-6).all()


def test_edges_are_as_much_there_as_the_shading_finds_them(tmp_path):
    """Across an edge of 90 degrees, the picture of the edges summed up: what rub makes of both is alike."""
    summed = {}
    for kind in ("shading", GEOMETRY):
        brick = renders.cube(8.0, renders.shown("Shine", _edges(kind)))
        if kind == GEOMETRY:
            shape = brick.data
            brick.data = round_one(shape)
            bpy.data.meshes.remove(shape)
        renders.look(1.5, (np.pi / 4, 0.0, 0.0), 50.0)
        bpy.context.scene.camera.location = (0.0, -40.0, 40.0)
        across = renders.render(tmp_path, 64, 16)[..., 0].mean(axis=1)
        summed[kind] = float(across.sum())
        bpy.data.objects.remove(brick)
    assert summed[GEOMETRY] == pytest.approx(summed["shading"], rel=0.25)


def _edges(kind: str):
    def build(b):
        if kind == GEOMETRY:
            b.output("Shine", builder.group_socket(b.subgroup(mesh_edges(), {}), "OUTPUT", "Edge"))
            return
        normal = builder.socket(b.add("ShaderNodeNewGeometry").outputs, "Normal")
        found = b.subgroup(rounding(4), {"Normal": normal, "Radius": b.math("ADD", RADIUS_MM, 0.0), "Scale": 1.0})
        b.output("Shine", builder.group_socket(found, "OUTPUT", "Edge"))

    return build


def test_clear_takes_all_of_it_out_again():
    build = wall()
    things = read(build).objects
    meshes = {thing.name: thing.data for thing in things}
    before, stood, keys = blocks(), transforms(things), read(build).bricks.key.tobytes()
    told = usecases.apply(build, PRESET, DIALS)
    assert told.rounding == GEOMETRY
    assert all(twins.SHAPE in thing.data for thing in things)
    assert len({thing.data for thing in things}) == 2  # one a mesh
    assert read(build).bricks.key.tobytes() == keys
    usecases.clear(build)
    assert {thing.name: thing.data for thing in things} == meshes
    assert not any(name.startswith("playworn") for thing in things for name in thing.keys())  # noqa: SIM118  an object is no dict
    assert transforms(things) == stood
    assert blocks() == before


def test_twice_is_once_and_shading_takes_it_off():
    build = wall()
    usecases.apply(build, PRESET, DIALS)
    once, stands = blocks(), usecases.check(build)
    usecases.apply(build, PRESET, DIALS)
    assert blocks() == once
    usecases.apply(build, PRESET, usecases.Dials(seed=7))
    assert not any(twins.SHAPE in mesh for mesh in bpy.data.meshes)
    shaded = usecases.check(build)  # the fit is the same, and measured the same, whichever carries the clearance
    for name in ("moved", "max_shift_mm", "max_lift_mm", "max_twist_deg", "max_play_mm", "max_interference_mm"):
        assert getattr(stands, name) == pytest.approx(getattr(shaded, name), abs=1e-5)


def test_clearance_stands_in_the_mesh_and_not_in_the_scale():
    build = wall()
    things = read(build).objects
    scales = [tuple(thing.delta_scale) for thing in things]
    usecases.apply(build, PRESET, DIALS)
    assert [tuple(thing.delta_scale) for thing in things] == scales
    found = read(build)
    for n, thing in enumerate(things):
        size = np.ptp(points(thing.data), axis=0) * found.scale[n]
        full = np.ptp(points(originals.original(thing.data)), axis=0) * found.scale[n]
        level = np.abs(found.bricks.turn[n][2]) < 0.7
        assert (full - size)[level] == pytest.approx(2.0 * PRESET.fit.clearance_mm, abs=2e-3)
        assert (full - size)[~level] == pytest.approx(0.0, abs=1e-3)


def test_a_dialled_limit_makes_new_twins_and_a_dialled_looseness_none():
    build = wall()
    usecases.apply(build, PRESET, DIALS)
    first = {thing.data for thing in read(build).objects}
    usecases.dial(build, PRESET, usecases.Dials(seed=7, looseness=1.7, rounding=GEOMETRY))
    assert {thing.data for thing in read(build).objects} == first
    other = replace(PRESET, fit=replace(PRESET.fit, clearance_mm=0.02))
    usecases.dial(build, other, usecases.Dials(seed=7, rounding=GEOMETRY))
    shrink = originals.shrink(read(build).objects)
    assert (shrink == 1.0).sum() < shrink.size
    assert usecases.check(build).max_interference_mm == pytest.approx(0.0, abs=1e-6)
    assert len([mesh for mesh in bpy.data.meshes if twins.SHAPE in mesh]) == 2


def test_others_keep_the_mesh_and_bricks_with_modifiers_are_shaded():
    build = wall()
    mesh = read(build).objects[0].data
    outside = put(bpy.context.scene.collection, mesh, "outside")
    odd = read(build).objects[0]
    odd.modifiers.new("more", "SUBSURF")
    told = usecases.apply(build, PRESET, DIALS)
    assert outside.data == mesh == odd.data
    assert [each.object for each in told.skipped] == [odd.name]
    assert "has modifiers" in told.skipped[0].reason
    bevels = [node for tree in bpy.data.node_groups for node in tree.nodes if node.bl_idname == "ShaderNodeBevel"]
    assert bevels  # for the one that is shaded
    odd.modifiers.clear()
    usecases.apply(build, PRESET, DIALS)
    assert not any(node.bl_idname == "ShaderNodeBevel" for tree in bpy.data.node_groups for node in tree.nodes)


def test_it_survives_a_saved_file_and_a_renamed_mesh(tmp_path):
    build = wall()
    usecases.apply(build, PRESET, DIALS)
    bpy.data.meshes["2x4"].name = "renamed"
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "build.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "build.blend"))
    build = bpy.data.collections["build"]
    assert usecases.recall(build).rounding == GEOMETRY
    usecases.clear(build)
    assert sorted(mesh.name for mesh in bpy.data.meshes) == ["1x1", "renamed"]


def test_materials_and_uv_maps_come_along():
    mesh = brick_mesh("painted", 2, 2, 3, 1.0)
    for name in ("red", "blue"):
        mesh.materials.append(bpy.data.materials.new(name))
    mesh.polygons[0].material_index = 1
    mesh.uv_layers.new(name="map")
    made = round_one(mesh, radius_mm=0.1)
    assert [material.name for material in made.materials] == ["red", "blue"]
    assert {face.material_index for face in made.polygons} == {0, 1}
    assert [layer.name for layer in made.uv_layers] == ["map"]
