"""The wear as Cycles shows it: exactly clean where it must be, in real units where it is."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import compat
from addon.core.wear import cielab, marking, tint
from addon.core.wear.layers import LAYERS, PICTURES, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.core.wear.names import SHARES_OF
from addon.core.wear.quality import QUALITIES
from addon.core.wear.texture import Levels, Texture
from addon.nodes import builder
from addon.nodes.attach import attach, detach
from addon.nodes.groups.coordinates import coordinates
from addon.nodes.groups.picture import marks, read_as
from addon.nodes.groups.scratches import scratches
from addon.scene.wear import stamps

WEAR = Wear(
    0.4, Scratches(0.8, 40.0, 6.0), Smudges(0.8, 60.0), Dust(0.7, 30.0), Rub(0.8), Tint(1.0), Fade(8.0), Finish(0.5)
)
CLEAN = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0))
ONLY_ROUNDED = Wear(1.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0))
ONLY_SCRATCHED = Wear(0.0, Scratches(1.0, 40.0, 6.0), Smudges(0.0, 60.0))
ONLY_SMUDGED = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(1.0, 60.0))
ONLY_DUSTY = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), dust=Dust(1.0, 30.0))
ONLY_RUBBED = Wear(1.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), rub=Rub(1.0))
ONLY_TINTED = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), tint=Tint(5.0))
ONLY_FADED = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), fade=Fade(10.0))
ONLY_MOULDED = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), finish=Finish(1.0))

WHITE, RED, BLUE = (0.80, 0.80, 0.78), (0.50, 0.01, 0.02), (0.01, 0.05, 0.40)


WIDEST_LOT = tint.LOTS[-1].tolist()


# Pixels a side of small stand-ins: the same marks, quicker to draw; and how they are read.
SMALL = {"scratches": (512, Levels(1.0, 0.3)), "smudges": (256, Levels(0.0, 0.7)), "dust": (256, Levels(0.1, 0.9))}


def pictures():
    found = {}
    for kind, each in PICTURES.items():
        size, read = SMALL.get(kind, (256, Levels()))
        found[kind] = Texture(picture_of(each.stand_in(0, size)), read)
    return found


def cube(size, material, units_per_mm=1.0):
    """A cube of so many mm at the origin, told to the shaders as a brick of a build."""
    half = 0.5 * size * units_per_mm
    corners = [(x * half, y * half, z * half) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    mesh = bpy.data.meshes.new("cube")
    mesh.from_pydata(corners, [], faces)
    mesh.materials.append(material)
    made = bpy.data.objects.new("cube", mesh)
    bpy.context.scene.collection.objects.link(made)
    for name in SHARES_OF:
        made[name] = (1.0, 1.0, 1.0)
    made["playworn_lot"] = WIDEST_LOT
    lay_marks(made, 37, 1.0 / units_per_mm)
    return made


def lay_marks(brick, key, mm=1.0):
    """Shifts and turns the marks on a brick as those of this key are; mm: of a unit of its mesh."""
    keys = np.array([key])
    brick["playworn_offset"] = marking.offsets(keys)[0].tolist()
    brick["playworn_turn"] = marking.turns(keys, np.array([mm]))[0].tolist()


def in_full_light(brick):
    """Sets a brick where light has been all day: nothing drifts over it."""
    brick["playworn_offset"], brick["playworn_turn"] = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0, 0.0)


def look(scale, towards=(0.0, 0.0, 0.0), distance=100.0):
    """An orthographic camera so many units wide, looking down z and turned by `towards`."""
    data = bpy.data.cameras.new("camera")
    data.type, data.ortho_scale, data.clip_start, data.clip_end = "ORTHO", scale, distance * 1e-3, distance * 10.0
    camera = bpy.data.objects.new("camera", data)
    camera.rotation_euler = towards
    camera.location = camera.rotation_euler.to_matrix() @ data.view_frame()[0].__class__((0.0, 0.0, distance))
    bpy.context.scene.collection.objects.link(camera)
    bpy.context.scene.camera = camera


def render(tmp_path, size=64, samples=4):
    """The picture as linear colours (size, size, 4), row 0 at the bottom."""
    scene = bpy.context.scene
    scene.render.engine, scene.cycles.device, scene.cycles.samples = "CYCLES", "CPU", samples
    scene.cycles.use_denoising = scene.cycles.use_adaptive_sampling = False
    scene.cycles.pixel_filter_type = "BOX"
    scene.render.resolution_x = scene.render.resolution_y = size
    scene.render.resolution_percentage = 100
    compat.set_file_format(scene.render.image_settings, "OPEN_EXR")
    scene.render.image_settings.color_depth = "32"
    scene.render.filepath = str(tmp_path / "picture.exr")
    bpy.ops.render.render(write_still=True)
    picture = bpy.data.images.load(scene.render.filepath, check_existing=False)
    pixels = np.empty(size * size * 4, np.float32)
    picture.pixels.foreach_get(pixels)
    bpy.data.images.remove(picture)
    return pixels.reshape(size, size, 4)


def glossy(normal_map=False, specular=0.5):
    made = bpy.data.materials.new("plastic")
    tree = compat.node_tree(made)
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs["Roughness"].default_value = 0.2
    shader.inputs["Specular IOR Level"].default_value = specular
    shader.inputs["Base Color"].default_value = (0.3, 0.02, 0.02, 1.0)
    if normal_map:
        noise, bump = tree.nodes.new("ShaderNodeTexNoise"), tree.nodes.new("ShaderNodeBump")
        tree.links.new(noise.outputs[0], bump.inputs["Height"])
        tree.links.new(noise.outputs[0], shader.inputs["Roughness"])
        tree.links.new(bump.outputs[0], shader.inputs["Normal"])
    return made


def stage(material):
    """A 24 mm cube seen on a corner, in metres, under one window-like light."""
    brick = cube(24.0, material, 0.001)
    look(0.045, (0.9, 0.0, 0.6), 0.3)
    light = bpy.data.lights.new("window", "AREA")
    light.size, light.energy = 0.2, 1.0
    window = bpy.data.objects.new("window", light)
    window.location, window.rotation_euler = (-0.15, 0.15, 0.25), (-0.5, -0.5, 0.0)
    bpy.context.scene.collection.objects.link(window)
    world = bpy.data.worlds.new("room")
    bpy.context.scene.world = world
    compat.node_tree(world)
    bpy.context.scene["playworn_wear"] = 1.0
    return brick


def forget_brick(brick):
    for name in ("playworn_share", "playworn_offset", "playworn_turn"):
        del brick[name]


def forget_dial(_):
    del bpy.context.scene["playworn_wear"]
    bpy.context.scene["playworn_more_scratches"] = 1.0


def turn_dial_down(_):
    bpy.context.scene["playworn_wear"] = 0.0


@pytest.mark.parametrize("normal_map", [False, True], ids=["constant", "normal map"])
@pytest.mark.parametrize("way", [forget_brick, forget_dial, turn_dial_down])
def test_outside_a_build_or_without_the_dial_it_is_the_untouched_material(way, normal_map, tmp_path):
    material = glossy(normal_map)
    brick = stage(material)
    untouched = render(tmp_path)
    attach([material], WEAR, pictures(), 0.001)
    worn = render(tmp_path)
    way(brick)
    assert np.abs(worn - untouched).max() > 0.02
    assert np.array_equal(render(tmp_path), untouched)


@pytest.mark.parametrize("quality", QUALITIES.values(), ids=list(QUALITIES))
def test_amounts_of_nothing_are_exactly_clean_and_detached_too(quality, tmp_path):
    material = glossy()
    stage(material)
    untouched = render(tmp_path)
    attach([material], CLEAN, pictures(), 0.001, quality)
    assert np.array_equal(render(tmp_path), untouched)
    attach([material], WEAR, pictures(), 0.001, quality)
    assert not np.array_equal(render(tmp_path), untouched)
    detach([material])
    assert np.array_equal(render(tmp_path), untouched)


@pytest.mark.parametrize(
    "wear",
    [ONLY_ROUNDED, ONLY_SCRATCHED, ONLY_SMUDGED, ONLY_DUSTY, ONLY_RUBBED, ONLY_TINTED, ONLY_FADED, ONLY_MOULDED],
)
def test_every_layer_alone_changes_the_picture(wear, tmp_path):
    material = glossy()
    stage(material)
    untouched = render(tmp_path, samples=16)
    attach([material], wear, pictures(), 0.001)
    change = np.abs(render(tmp_path, samples=16) - untouched)[..., :3].max(axis=2)
    assert (change > 0.01).mean() > 0.005


@pytest.mark.parametrize(("transmission", "index"), [(0.0, 1.54), (1.0, 1.585)], ids=["opaque", "clear"])
def test_a_moulded_brick_mirrors_what_fresnel_says_of_its_plastic(transmission, index, tmp_path):
    """At normal incidence ((n - 1) / (n + 1))^2 of the light comes back: 0.0452 for ABS, 0.0512 for polycarbonate.

    Black all through in a white world, so that the mirror is all there is to see. The moulded gloss of 0.16 spreads
    what comes back over a few degrees, where Fresnel's formula is still flat.
    """
    material = glossy()
    entries = next(n for n in material.node_tree.nodes if n.bl_idname == "ShaderNodeBsdfPrincipled").inputs
    entries["Base Color"].default_value = (0.0, 0.0, 0.0, 1.0)
    entries["Transmission Weight"].default_value = transmission
    cube(24.0, material)
    look(20.0)
    scene = bpy.context.scene
    scene["playworn_wear"] = 1.0
    scene.world = bpy.data.worlds.new("white")
    background = next(n for n in compat.node_tree(scene.world).nodes if n.bl_idname == "ShaderNodeBackground")
    background.inputs["Color"].default_value = (1.0, 1.0, 1.0, 1.0)
    bare = render(tmp_path, 32, 256)[..., 0].mean()
    attach([material], ONLY_MOULDED, pictures(), 0.001)
    moulded = render(tmp_path, 32, 256)[..., 0].mean()
    assert bare == pytest.approx(0.04, rel=0.02)  # the index of a default material is 1.5
    assert moulded == pytest.approx(((index - 1.0) / (index + 1.0)) ** 2, rel=0.02)


@pytest.mark.parametrize("layer", LAYERS)
def test_the_scene_gives_one_layer_more_or_none_of_what_the_preset_says(layer, tmp_path):
    """Held against a preset that says so itself, pixel for pixel."""
    half = Wear(
        0.4, Scratches(0.4, 40.0, 6.0), Smudges(0.4, 60.0), Dust(0.4, 30.0), Rub(0.4), Tint(1.0), Fade(6.0), Finish(0.4)
    )
    strength = "delta_e" if layer in ("tint", "fade") else "amount"

    def says(amount):
        return replace(half, **{layer: replace(getattr(half, layer), **{strength: amount})})

    def rendered(wear, more):
        attach([material], wear, pictures(), 0.001)
        bpy.context.scene[stamps.MORE[layer]] = more
        return render(tmp_path, 48)

    material = glossy()
    stage(material)
    assert np.array_equal(rendered(half, -1.0), rendered(says(0.0), 0.0))
    twice = rendered(half, 1.0)
    assert not np.array_equal(twice, rendered(half, 0.0))
    if strength == "amount":
        assert np.array_equal(twice, rendered(says(0.8), 0.0))


def test_smudges_lie_in_the_sheen_and_nowhere_else(tmp_path):
    """A surface that reflects nothing (Specular IOR Level 0) shows no smudge at all."""
    material = glossy(specular=0.0)
    stage(material)
    untouched = render(tmp_path)
    attach([material], ONLY_SMUDGED, pictures(), 0.001)
    assert render(tmp_path) == pytest.approx(untouched, abs=1e-6)


def test_rounding_stays_at_the_edges(tmp_path):
    material = glossy()
    stage(material)
    look(0.020, (0.0, 0.0, 0.0), 0.3)
    untouched = render(tmp_path, samples=1)
    attach([material], ONLY_ROUNDED, pictures(), 0.001)
    assert np.array_equal(render(tmp_path, samples=1), untouched)  # 20 of 24 mm in view: nothing within 1 mm of an edge


def test_bricks_differ_and_a_name_does_not_matter(tmp_path):
    material = glossy()
    brick = stage(material)
    attach([material], WEAR, pictures(), 0.001)
    first = render(tmp_path)
    brick.name = "another name"
    assert np.array_equal(render(tmp_path), first)
    lay_marks(brick, 38, 1000.0)
    assert not np.array_equal(render(tmp_path), first)


def shown(result, build):
    """A material that shines with what `build` of a group gives out: its picture is the value itself."""
    group = builder.group("chart", 1, (), (builder.Socket("Shine", "Value to look at"),), build)
    made = bpy.data.materials.new("chart")
    tree = compat.node_tree(made)
    tree.nodes.clear()
    node, shine, out = (tree.nodes.new(f"ShaderNode{kind}") for kind in ("Group", "Emission", "OutputMaterial"))
    node.node_tree = group
    tree.links.new(node.outputs[0], shine.inputs["Strength"])
    tree.links.new(shine.outputs[0], out.inputs["Surface"])
    return made


def picture_of(grey):
    image = bpy.data.images.new("chart", grey.shape[1], grey.shape[0], float_buffer=True, is_data=True)
    image.pixels.foreach_set(np.repeat(grey[..., None], 4, axis=2).astype(np.float32).ravel())
    return image


def shining(colour, wear, what="Base Color", images=None, **settings):
    """A brick of a worn material that shines with its worn base colour, or another value: its picture is the value."""
    material = glossy()
    tree = material.node_tree
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs["Base Color"].default_value = (*colour, 1.0)
    for name, setting in settings.items():
        shader.inputs[name].default_value = setting
    brick = cube(24.0, material)
    look(10.0)
    attach([material], wear, images or pictures(), 1.0)
    worn = shader.inputs[what].links[0].from_socket
    shine = tree.nodes.new("ShaderNodeEmission")
    tree.links.new(worn, shine.inputs["Color"])
    output = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeOutputMaterial")
    tree.links.new(shine.outputs[0], output.inputs["Surface"])
    bpy.context.scene["playworn_wear"] = 1.0
    return brick


def apart(colour, seen):
    """CIEDE2000; `core.cielab` is held against the published pairs in tests/core."""
    return float(cielab.difference(cielab.lab(colour), cielab.lab(seen)))


@pytest.mark.parametrize("colour", [WHITE, RED, BLUE], ids=["white", "red", "blue"])
def test_bricks_of_all_lots_stay_within_the_limit_and_one_reaches_it(colour, tmp_path):
    brick = shining(colour, ONLY_TINTED)
    seen = []
    for lot in tint.LOTS:
        brick["playworn_lot"] = lot.tolist()
        seen.append(apart(colour, render(tmp_path, 4, 1)[2, 2, :3]))
    assert seen[0] == pytest.approx(0.0, abs=1e-3)  # the first lot is the colour as given
    assert max(seen) == pytest.approx(5.0, abs=0.01)
    bpy.context.scene["playworn_wear"] = 0.5
    assert 1.5 < apart(colour, render(tmp_path, 4, 1)[2, 2, :3]) < 3.5
    del brick["playworn_lot"]
    assert apart(colour, render(tmp_path, 4, 1)[2, 2, :3]) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("colour", [WHITE, RED, BLUE], ids=["white", "red", "blue"])
def test_bricks_fade_by_up_to_the_limit_and_never_by_less_than_a_third_of_it(colour, tmp_path):
    brick = shining(colour, ONLY_FADED)
    in_full_light(brick)
    seen = []
    for share in marking.shares(np.arange(12, dtype=np.uint64)):
        brick["playworn_share"] = share.tolist()
        seen.append(apart(colour, render(tmp_path, 4, 1)[2, 2, :3]))
    assert 3.3 < min(seen) < max(seen) <= 10.01
    assert max(seen) > 8.0


def test_age_drifts_over_a_brick_with_no_edge_in_it(tmp_path):
    shining(WHITE, ONLY_FADED)
    bpy.context.scene.camera.data.ortho_scale = 24.0
    seen = render(tmp_path, 32, 1)[16, :, :3]
    away = np.array([apart(WHITE, each) for each in seen])
    assert np.ptp(away) > 0.3
    assert np.abs(np.diff(away)).max() < 0.2 * np.ptp(away)
    assert away.max() <= 10.01


def test_what_faces_down_has_aged_less(tmp_path):
    brick = shining(WHITE, ONLY_FADED)
    in_full_light(brick)
    above = apart(WHITE, render(tmp_path, 4, 1)[2, 2, :3])
    brick.rotation_euler = (np.pi, 0.0, 0.0)
    assert apart(WHITE, render(tmp_path, 4, 1)[2, 2, :3]) == pytest.approx(above, abs=0.01)  # another face is up now
    camera = bpy.context.scene.camera
    camera.location, camera.rotation_euler = -camera.location, (np.pi, 0.0, 0.0)
    assert 0.5 * above < apart(WHITE, render(tmp_path, 4, 1)[2, 2, :3]) < 0.9 * above


def test_a_scratch_is_paler_than_what_it_lies_in(tmp_path):
    """By no more than the share of 0.15 of the way to white; between the scratches all is as it was."""
    shining(RED, Wear(0.0, Scratches(1.0, 40.0, 6.0), Smudges(0.0, 60.0)))
    seen = render(tmp_path, 64, 1)[..., :3].astype(float)
    assert (seen >= np.array(RED) - 1e-6).all()
    share = (seen[..., 1] - RED[1]) / (0.85 - RED[1])
    assert share.min() < 0.01
    assert 0.02 < share.max() < 0.151


@pytest.mark.parametrize("turn", [0.0, np.pi], ids=["upright", "upside down"])
def test_dust_lies_on_what_faces_the_sky_thinner_on_slopes_and_nowhere_on_walls(turn, tmp_path):
    """The face of a cube tipped further and further, seen square on: the world's up counts, not its own."""
    brick = shining(BLUE, ONLY_DUSTY)
    covers = []
    for degrees in (0.0, 35.0, 50.0, 75.0):
        brick.rotation_euler = (turn + np.radians(degrees), 0.0, 0.0)
        look(10.0, (np.radians(degrees), 0.0, 0.0))
        covers.append(render(tmp_path, 16, 4)[..., :3].mean(axis=(0, 1))[0] - BLUE[0])
    assert covers[0] > covers[1] > covers[2] > 0.02
    assert covers[3] == pytest.approx(0.0, abs=1e-7)
    look(10.0, (np.pi, 0.0, 0.0))  # from below
    brick.rotation_euler = (turn, 0.0, 0.0)
    assert render(tmp_path, 16, 4)[..., 0] == pytest.approx(BLUE[0], abs=1e-7)


def across_the_edge(tmp_path):
    """What a face shows from 2 mm inside to its edge: 32 pixels of 1/16 mm, the last at the edge."""
    look(2.0)
    bpy.context.scene.camera.location.x = 11.0
    return render(tmp_path, 32, 64)[..., :3].mean(axis=0)


def test_rub_whitens_the_edges_as_wide_as_the_rounding_and_no_wider(tmp_path):
    shining(BLUE, ONLY_RUBBED)
    red = across_the_edge(tmp_path)[:, 0] - BLUE[0]
    assert red[:15] == pytest.approx(0.0, abs=1e-7)  # further than 1 mm from the edge
    assert (red[17:] > 0.0).all()
    assert red[-4:].mean() > 2.0 * red[18:22].mean() > 0.0
    assert red[-1] > 0.04


def test_no_rounding_no_rub(tmp_path):
    shining(BLUE, Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), rub=Rub(1.0)))
    assert across_the_edge(tmp_path)[:, 0] == pytest.approx(BLUE[0], abs=1e-7)


@pytest.mark.parametrize(
    ("settings", "duller"),
    [
        ({"Roughness": 0.1}, True),
        ({"Roughness": 0.95}, False),
        ({"Roughness": 0.05, "Transmission Weight": 1.0}, True),
        ({"Roughness": 0.6, "Metallic": 1.0}, False),
    ],
    ids=["glossy plastic", "rubber", "glass", "metal"],
)
def test_rub_takes_the_gloss_off_and_polishes_what_was_matt(settings, duller, tmp_path):
    shining(BLUE, ONLY_RUBBED, "Roughness", **settings)
    seen = across_the_edge(tmp_path)[:, 0]
    assert seen[:15] == pytest.approx(settings["Roughness"], abs=1e-6)
    assert (seen[-1] > settings["Roughness"] + 0.03) if duller else (seen[-1] < settings["Roughness"] - 0.03)


def test_glass_is_frosted_and_not_whitened(tmp_path):
    shining(BLUE, ONLY_RUBBED, **{"Transmission Weight": 1.0})
    assert across_the_edge(tmp_path) == pytest.approx(np.broadcast_to(BLUE, (32, 3)), abs=1e-6)


def test_dust_is_pale_and_never_paler_than_dust(tmp_path):
    shining(BLUE, ONLY_DUSTY)
    seen = render(tmp_path, 64, 1)[..., :3]
    light = cielab.lab(seen)[..., 0]
    assert cielab.lab(BLUE)[0] + 5.0 < light.min()  # a film everywhere
    assert light.max() < 75.0
    assert light.std() > 1.0  # and specks in it


def test_dust_lies_thicker_beside_a_wall_and_as_ever_a_centimetre_from_it(tmp_path):
    shining(BLUE, ONLY_DUSTY)
    look(20.0)
    free = render(tmp_path, 20, 64)[..., 0] - BLUE[0]
    wall = cube(24.0, None)
    wall.location = (-18.0, 0.0, 12.0)  # covers the top face from its edge to x = -6: four columns of the picture
    beside = render(tmp_path, 20, 64)[..., 0] - BLUE[0]
    assert beside[:, 4].mean() > 1.2 * free[:, 4].mean()
    assert beside[:, 10:] == pytest.approx(free[:, 10:], abs=1e-7)


def test_an_edge_is_rubbed_more_in_some_places_than_in_others(tmp_path):
    shining(BLUE, ONLY_RUBBED)
    look(20.0)
    bpy.context.scene.camera.location.x = 2.2
    along = render(tmp_path, 80, 64)[:, -2, 0] - BLUE[0]  # 20 mm, a quarter of one from the edge
    assert along.min() > 0.0
    assert np.percentile(along, 90) > 2.0 * np.percentile(along, 10)


@pytest.mark.parametrize("how", [("Transmission Weight", 1.0), ("Alpha", 0.3)])
def test_no_dust_inside_glass(how, tmp_path):
    material = glossy()
    shader = next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs[how[0]].default_value = how[1]
    stage(material)
    untouched = render(tmp_path)
    attach([material], ONLY_DUSTY, pictures(), 0.001)
    assert np.array_equal(render(tmp_path), untouched)


@pytest.mark.parametrize("towards", [(0.0, 0.0, 0.0), (np.pi / 2, 0.0, 0.0), (np.pi / 2, 0.0, np.pi / 2)], ids="zyx")
@pytest.mark.parametrize("key", [11, 52, 93])
def test_stripes_keep_their_real_width_on_all_sides_however_they_are_turned(key, towards, tmp_path):
    """Eight waves in 16 mm are 0.5 per mm. Outside check: the peak of the discrete Fourier transform of the picture."""
    waves = 0.5 + 0.5 * np.cos(2.0 * np.pi * 8.0 * (np.arange(256) + 0.5) / 256)
    image = picture_of(np.broadcast_to(waves, (256, 256)))

    def build(b):
        brick = b.subgroup(coordinates(), {})
        b.output("Shine", marks(b, image, builder.group_socket(brick, "OUTPUT", "Place"), b.math("ADD", 16.0, 0.0)))
        read_as(b.tree, Levels())

    lay_marks(cube(64.0, shown("Mark", build)), key)
    look(50.0, towards)
    seen = render(tmp_path, 128, 4)[..., 0]
    window = np.hanning(128)
    power = np.abs(np.fft.fft2((seen - seen.mean()) * window * window[:, None], (2048, 2048)))
    row, column = np.unravel_index(power[:, :1024].argmax(), (2048, 1024))
    frequencies = np.fft.fftfreq(2048, 50.0 / 128)
    assert np.hypot(frequencies[row], frequencies[column]) == pytest.approx(0.5, rel=0.02)


@pytest.mark.parametrize("units_per_mm", [1.0, 0.001])
@pytest.mark.parametrize("object_scale", [1.0, 2.5])
def test_a_groove_has_its_real_slope_in_any_scale(units_per_mm, object_scale, tmp_path):
    """A ramp 500 µm deep over 10 mm leans by atan(0.05), in a build in mm or in metres, on a scaled object too."""
    image = picture_of(np.broadcast_to((np.arange(512) + 0.5) / 512, (512, 512)))
    tree = scratches(Texture(image, Levels()), grooves=True)

    def build(b):
        place = builder.group_socket(b.subgroup(coordinates(), {}), "OUTPUT", "Place")
        size = {"Size": 10.0, "Depth": 500.0, "Scale": units_per_mm}
        full = {"Place": place, "Amount": b.math("ADD", 1.0, 0.0)} | size
        normal = builder.socket(b.add("ShaderNodeNewGeometry").outputs, "Normal")
        scored = builder.group_socket(b.subgroup(tree, full | {"Normal": normal}), "OUTPUT", "Normal")
        parts = b.add("ShaderNodeSeparateXYZ", "", {"Vector": scored})
        b.output("Shine", builder.socket(parts.outputs, "Z"))

    brick = cube(40.0, shown("Upright", build), units_per_mm / object_scale)
    brick.scale = (object_scale,) * 3
    look(30.0 * units_per_mm, distance=100.0 * units_per_mm)
    upright = np.median(render(tmp_path, 32, 1)[..., 0])
    assert np.tan(np.arccos(upright)) == pytest.approx(0.05, rel=0.02)
