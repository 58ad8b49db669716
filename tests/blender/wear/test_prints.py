"""Prints, atlases and vertex colours come through the wear sharp, and age as plain colours do."""

import bpy
import numpy as np
import pytest

from addon.core.wear import cielab, fade, swatches, tint
from addon.core.wear.layers import Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.nodes.attach import attach, detach
from addon.scene.wear.rounded import Raw, rounded
from tests.blender.wear.renders import cube, glossy, in_full_light, look, pictures, render

GLOSS_ONLY = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(1.0, 60.0), finish=Finish(1.0))
FADED = Wear(fade=Fade(13.0))
EVERYTHING = Wear(
    0.2, Scratches(0.8, 40.0, 6.0), Smudges(0.8, 60.0), Dust(0.5, 30.0), Rub(0.8), Tint(1.0), Fade(8.0), Finish(0.8)
)
INKS = np.array([(0.5, 0.01, 0.02), (0.8, 0.5, 0.01), (0.01, 0.05, 0.4), (0.8, 0.8, 0.78)])  # a row of four


def principled(material):
    return next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")


def printed(inks=INKS, columns=4):
    """A material whose colour comes from a picture of inks by the UV map, its opacity from the same picture."""
    image = bpy.data.images.new("print", columns, len(inks) // columns, float_buffer=True, is_data=True)
    image.pixels.foreach_set(np.c_[inks, np.ones(len(inks))].astype(np.float32).ravel())
    material = glossy()
    nodes, link = material.node_tree.nodes, material.node_tree.links.new
    picture = nodes.new("ShaderNodeTexImage")
    picture.image, picture.interpolation, picture.extension = image, "Closest", "EXTEND"
    link(picture.outputs["Color"], principled(material).inputs["Base Color"])
    link(picture.outputs["Alpha"], principled(material).inputs["Alpha"])
    return material


def painted():
    """A material that shows a mesh's own colours."""
    material = glossy()
    colours = material.node_tree.nodes.new("ShaderNodeVertexColor")
    material.node_tree.links.new(colours.outputs["Color"], principled(material).inputs["Base Color"])
    return material


def tile(material):
    """A cube of 24 mm with a UV map from above over its width, and in corner colours the ink at the middle there."""
    brick = cube(24.0, material)
    mesh = brick.data
    place = np.array([mesh.vertices[loop.vertex_index].co[:2] for loop in mesh.loops]) / 24.0 + 0.5
    mesh.uv_layers.new(name="map").data.foreach_set("uv", place.astype(np.float32).ravel())
    look(24.0)
    bpy.context.scene["playworn_wear"] = 1.0
    brick["playworn_lot"] = (0.0, 0.0, 0.0)
    return brick


def colour_seen(material, tmp_path):
    """The base colour that reaches the shader, over the face seen from above."""
    tree, entry = material.node_tree, principled(material).inputs["Base Color"]
    shine = tree.nodes.new("ShaderNodeEmission")
    tree.links.new(entry.links[0].from_socket, shine.inputs["Color"])
    output = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeOutputMaterial")
    tree.links.new(shine.outputs[0], output.inputs["Surface"])
    seen = render(tmp_path, 32, 1)[..., :3]
    tree.links.new(principled(material).outputs[0], output.inputs["Surface"])
    tree.nodes.remove(shine)
    return seen


def test_gloss_leaves_a_print_to_the_bit(tmp_path):
    material = printed()
    tile(material)
    untouched = colour_seen(material, tmp_path)
    attach([material], GLOSS_ONLY, pictures(), 1.0)
    assert np.array_equal(colour_seen(material, tmp_path), untouched)
    assert untouched[16, ::8] == pytest.approx(INKS, abs=1e-6)


def test_a_worn_print_has_its_edges_where_they_were(tmp_path):
    """Between two inks the colour changes from one pixel to the next; within an ink less than that."""
    material = printed()
    tile(material)
    attach([material], EVERYTHING, pictures(), 1.0)
    row = colour_seen(material, tmp_path)[8:24].mean(axis=0)
    steps = cielab.difference(cielab.lab(row[:-1]), cielab.lab(row[1:]))
    edges = np.array([7, 15, 23])
    assert set(np.argsort(steps)[-3:]) == set(edges)
    assert steps[edges].min() > 3.0 * np.delete(steps, edges)[4:-4].max()


def test_a_print_s_opacity_stays_fed_by_its_picture():
    material = printed()
    tile(material)
    source = principled(material).inputs["Alpha"].links[0].from_socket
    attach([material], EVERYTHING, pictures(), 1.0)
    assert principled(material).inputs["Alpha"].links[0].from_socket == source


def test_each_ink_of_a_print_ages_as_far_as_asked(tmp_path):
    """13 was asked: red 1.9, yellow 1.4 and blue 4.0 came when a picture aged as pale grey does."""
    material = printed()
    in_full_light(tile(material))
    attach([material], FADED, pictures(), 1.0)
    seen = colour_seen(material, tmp_path)[16, 4::8]
    away = cielab.difference(cielab.lab(INKS), cielab.lab(seen))
    assert away == pytest.approx([13.0] * 4, rel=0.05)
    assert seen == pytest.approx(as_bricks_age(INKS), abs=5e-3)


@pytest.mark.shared_out
@pytest.mark.parametrize("domain", ["POINT", "CORNER"])
@pytest.mark.parametrize("ink", range(4))
def test_vertex_colours_age_as_a_print_does(domain, ink, tmp_path):
    material = painted()
    brick = tile(material)
    in_full_light(brick)
    colours = brick.data.color_attributes.new("Col", "FLOAT_COLOR", domain)
    colours.data.foreach_set("color", np.tile([*INKS[ink], 1.0], len(colours.data)).astype(np.float32))
    brick.data.color_attributes.render_color_index = 0
    attach([material], FADED, pictures(), 1.0)
    seen = colour_seen(material, tmp_path)[16, 16]
    assert seen == pytest.approx(as_bricks_age(INKS[ink : ink + 1])[0], abs=5e-3)


def as_bricks_age(colours):
    """Bricks of these plain colours as light leaves them."""
    return np.array([fade.aged(colour, fade.ageing(colour, 13.0)) for colour in colours])


@pytest.mark.shared_out
@pytest.mark.parametrize("fed", ["a picture", "a mix of it"])
def test_any_colour_of_a_picture_differs_as_far_as_asked(fed, tmp_path):
    """1024 colours at once; how far each alone could, tests/core/wear/test_swatches.py tells of."""
    colours = cielab.decoded(np.random.default_rng(2).random((32 * 32, 3)))
    material = printed(colours, 32)
    tree, entry = material.node_tree, principled(material).inputs["Base Color"]
    if fed == "a mix of it":
        mix = tree.nodes.new("ShaderNodeMix")
        mix.data_type, mix.inputs[0].default_value = "RGBA", 0.25
        picture = entry.links[0].from_socket
        tree.links.new(picture, mix.inputs[6])
        mix.inputs[7].default_value = (0.5, 0.02, 0.1, 1.0)
        tree.links.new(mix.outputs[2], entry)
        colours = 0.75 * colours + 0.25 * np.array((0.5, 0.02, 0.1))
    brick = tile(material)
    in_full_light(brick)
    attach([material], FADED, pictures(), 1.0)
    away = cielab.difference(cielab.lab(colours), cielab.lab(colour_seen(material, tmp_path).reshape(-1, 3)))
    can = fade.differences(colours, np.ones(len(colours))) >= 13.0
    assert can.mean() > 0.9
    assert (np.abs(away[can] / 13.0 - 1.0) < 0.05).mean() > 0.99
    attach([material], Wear(tint=Tint(2.0)), pictures(), 1.0)
    widest = np.zeros(len(colours))
    for lot in tint.LOTS:
        brick["playworn_lot"] = lot.tolist()
        brick.update_tag()
        seen = colour_seen(material, tmp_path).reshape(-1, 3)
        widest = np.maximum(widest, cielab.difference(cielab.lab(colours), cielab.lab(seen)))
    assert (np.abs(widest / 2.0 - 1.0) < 0.05).mean() > 0.99


def test_twice_the_dial_fades_a_print_twice_as_far(tmp_path):
    material = printed()
    in_full_light(tile(material))
    attach([material], Wear(fade=Fade(7.0)), pictures(), 1.0)
    for dial in (1.0, 2.0):
        bpy.context.scene["playworn_wear"] = dial
        seen = colour_seen(material, tmp_path)[16, 4::8]
        assert cielab.difference(cielab.lab(INKS), cielab.lab(seen)) == pytest.approx([7.0 * dial] * 4, rel=0.05)


def test_the_picture_that_colours_are_looked_up_in_lies_in_the_file_and_leaves_with_the_wear(tmp_path):
    material = printed()
    attach([material], FADED, pictures(), 1.0)
    (ours,) = (image for image in bpy.data.images if "playworn_swatches" in image)
    assert ours.packed_file
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "a.blend"))
    (ours,) = (image for image in bpy.data.images if "playworn_swatches" in image)
    values = np.empty(len(ours.pixels), np.float32)
    ours.pixels.foreach_get(values)
    assert np.array_equal(values, swatches.picture(0.0, 13.0).ravel())
    detach(bpy.data.materials)
    assert not [image for image in bpy.data.images if "playworn_swatches" in image]


def test_plain_colours_keep_the_group_that_is_quicker_to_render():
    plain, picture = glossy(), printed()
    attach([plain, picture], FADED, pictures(), 1.0)
    groups = [next(n for n in m.node_tree.nodes if n.label == "Playworn wear").node_tree for m in (plain, picture)]
    inner = [{n.node_tree["playworn_group"] for n in g.nodes if n.bl_idname == "ShaderNodeGroup"} for g in groups]
    assert inner[1] - inner[0] == {"swatches"}
    assert "fade" in inner[0]


@pytest.mark.parametrize("radius", [0.2, 1.0])
def test_a_rounded_mesh_keeps_a_print_in_its_place_on_every_flat_face(radius):
    """Where a face is flat, its UV map says the same place as before, to a hundredth of a millimetre of 24."""
    brick = tile(printed())
    points = np.array([vertex.co[:] for vertex in brick.data.vertices])
    (made,) = rounded([Raw(brick.data, points, np.ones(3), np.zeros(3))], radius)
    assert not isinstance(made, str)
    faces = [face for face in made.polygons if abs(face.normal.z) > 0.9999]
    loops = [loop for face in faces for loop in face.loop_indices]
    uv = np.array([made.uv_layers["map"].data[loop].uv[:] for loop in loops])
    place = np.array([made.vertices[made.loops[loop].vertex_index].co[:2] for loop in loops]) / 24.0 + 0.5
    assert len(faces) >= 2
    assert np.abs(uv - place).max() * 24.0 < 0.01


def test_a_rounded_mesh_keeps_its_colours():
    brick = tile(painted())
    colours = brick.data.color_attributes.new("Col", "FLOAT_COLOR", "CORNER")
    of_face = np.repeat(np.c_[np.linspace(0.1, 0.9, 6)[:, None].repeat(3, axis=1), np.ones(6)], 4, axis=0)
    colours.data.foreach_set("color", of_face.astype(np.float32).ravel())
    points = np.array([vertex.co[:] for vertex in brick.data.vertices])
    (made,) = rounded([Raw(brick.data, points, np.ones(3), np.zeros(3))], 0.4)
    assert not isinstance(made, str)
    for before in brick.data.polygons:
        wanted = of_face[before.loop_start]
        (after,) = (face for face in made.polygons if face.normal.dot(before.normal) > 0.9999)
        seen = [made.color_attributes["Col"].data[loop].color[:] for loop in after.loop_indices]
        assert np.array(seen) == pytest.approx(np.tile(wanted, (len(seen), 1)), abs=1e-3)
