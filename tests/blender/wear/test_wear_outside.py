"""What shows a worn material or group outside of a build renders as if nobody had touched it, pixel for pixel."""

import bmesh
import bpy
import numpy as np
import pytest
from mathutils import Matrix

from addon import compat
from addon.core.wear.quality import CLOSE_UP, DRAFT, STANDARD
from addon.nodes.attach import attach, detach
from addon.nodes.plain import plain
from tests.blender.wear import torture
from tests.blender.wear.renders import WEAR, forget_brick, lay_marks, look, pictures, render

ACROSS = 7
APART = 0.03
SIDE = 28 * ACROSS  # pixels
ANIMATED = {"animated roughness, driven colour"}  # listed, and worn for the rest


def body(material):
    """A sharp cube with a smooth ball on it."""
    shape = bmesh.new()
    bmesh.ops.create_cube(shape, size=0.014)
    ball = bmesh.ops.create_uvsphere(
        shape, u_segments=16, v_segments=8, radius=0.006, matrix=Matrix.Translation((0.0, 0.0, 0.01))
    )
    for face in {face for vertex in ball["verts"] for face in vertex.link_faces}:
        face.smooth = True
    mesh = bpy.data.meshes.new("body")
    shape.to_mesh(mesh)
    shape.free()
    mesh.materials.append(material)
    return mesh


def gallery(materials):
    """A wall of small bodies, one a material, all turned differently; all are bricks of a build."""
    bricks = []
    for number, material in enumerate(materials):
        brick = bpy.data.objects.new(material.name, body(material))
        row, column = divmod(number, ACROSS)
        brick.location = (column - ACROSS // 2) * APART, (row - ACROSS // 2) * APART, 0.0
        brick.rotation_euler = 0.5 + 0.03 * number, 0.4 - 0.02 * number, 0.3 + 0.1 * number
        bpy.context.scene.collection.objects.link(brick)
        brick["playworn_share"], brick["playworn_lot"] = (1.2, 0.8, 0.01 * (number + 1)), (1.0, -1.0, 0.5)
        lay_marks(brick, number, 1000.0)
        bricks.append(brick)
    look(ACROSS * APART, (0.0, 0.0, 0.0), 0.5)
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN"))
    lamp.data.energy, lamp.rotation_euler = 2.0, (0.6, 0.3, 0.0)
    bpy.context.scene.collection.objects.link(lamp)
    bpy.context.scene.world = bpy.data.worlds.new("room")
    compat.node_tree(bpy.context.scene.world)
    bpy.context.scene["playworn_wear"] = 1.0
    return bricks


@pytest.mark.parametrize(
    ("colour", "seen"),
    [((0.6, 0.1, 0.2), (0.6, 0.1, 0.2)), ((1.0, 1.0, 1.0), (0.8, 0.8, 0.8)), ((0.9, 0.5, 0.0), (0.8, 0.5, 0.0))],
)
def test_a_plain_material_shows_the_colour_of_the_object_and_no_more_light_than_plastic_gives_back(
    colour, seen, tmp_path
):
    material = plain()
    (brick,) = gallery([material])
    tree = material.node_tree
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shine = tree.nodes.new("ShaderNodeEmission")
    tree.links.new(shader.inputs["Base Color"].links[0].from_socket, shine.inputs["Color"])
    output = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeOutputMaterial")
    tree.links.new(shine.outputs[0], output.inputs["Surface"])
    brick.color = (*colour, 1.0)
    assert cell(render(tmp_path, SIDE, 1), 0)[14, 14, :3] == pytest.approx(seen, abs=1e-6)


def cell(picture, number):
    """The part of the picture that shows one cube."""
    row, column = divmod(number, ACROSS)
    side = len(picture) // ACROSS
    return picture[row * side : (row + 1) * side, column * side : (column + 1) * side]


@pytest.mark.shared_out
@pytest.mark.parametrize(("frame", "quality"), [(1, STANDARD), (6, STANDARD), (6, DRAFT), (1, CLOSE_UP)])
def test_all_shapes_of_material_render_outside_as_they_did_and_inside_worn(frame, quality, tmp_path):
    """At two times, since some are animated."""
    named = torture.materials()
    del named["wax"]
    bricks = gallery(named.values())
    bpy.context.scene.frame_set(frame)
    untouched = render(tmp_path, SIDE, 2)
    skipped = attach(named.values(), WEAR, pictures(), 0.001, quality)
    worn = render(tmp_path, SIDE, 2)
    for brick in bricks:
        forget_brick(brick)
    outside = render(tmp_path, SIDE, 2)
    differs = {name for n, name in enumerate(named) if not np.array_equal(cell(outside, n), cell(untouched, n))}
    assert differs == set()
    changes = {name: np.abs(cell(worn, n) - cell(untouched, n)).max() for n, name in enumerate(named)}
    unseen = {
        "a shader that leads nowhere",
        "muted shader",
        "refraction",
        *(left.object for left in skipped),
    } - ANIMATED
    assert min(change for name, change in changes.items() if name not in unseen) > (0.002 if quality == DRAFT else 0.05)
    detach(named.values())
    assert np.array_equal(render(tmp_path, SIDE, 2), untouched)


def test_light_below_the_surface_is_the_same_outside_within_the_noise_of_the_render(tmp_path):
    """Cycles draws other random ways through a body as soon as its normal comes from nodes."""
    wax = torture.materials()["wax"]
    (brick,) = gallery([wax])
    untouched = cell(render(tmp_path, SIDE, 64), 0)
    attach([wax], WEAR, pictures(), 0.001)
    worn = cell(render(tmp_path, SIDE, 64), 0)
    forget_brick(brick)
    outside = cell(render(tmp_path, SIDE, 64), 0)
    assert abs(float((outside - untouched).mean())) < 1e-5
    assert (np.abs(outside - untouched) > 0.004).mean() < 0.001
    assert np.abs(worn - untouched).mean() > 0.004
