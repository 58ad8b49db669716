"""Worn cubes before a camera: wear of single layers, materials, lights, and pictures read back as numbers."""

import bpy
import numpy as np

from addon import compat
from addon.core.wear import cielab, marking, tint
from addon.core.wear.layers import PICTURES, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.core.wear.names import SHARES_OF
from addon.core.wear.quality import CLOSE_UP
from addon.core.wear.texture import Levels, Texture
from addon.nodes import builder
from addon.nodes.attach import attach

WEAR = Wear(
    0.4,
    Scratches(0.8, 40.0, 6.0),
    Smudges(0.8, 60.0),
    Dust(0.7, 30.0),
    Rub(0.8),
    Tint(1.0),
    Fade(8.0),
    Finish(0.5, 60.0, 8.0, 0.2),
)
CLEAN = Wear(0.0, Scratches(0.0, 40.0, 6.0), Smudges(0.0, 60.0), finish=Finish(0.0, 60.0, 8.0, 0.2))
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
    brick["playworn_spot"] = brick["playworn_offset"]


def in_full_light(brick):
    """Sets a brick where light has been all day: nothing drifts over it."""
    brick["playworn_offset"], brick["playworn_turn"] = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    brick["playworn_spot"] = (0.0, 0.0, 0.0)


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


def shining(colour, wear, what="Base Color", images=None, quality=CLOSE_UP, **settings):
    """A brick of a worn material that shines with its worn base colour, or another value: its picture is the value."""
    material = glossy()
    tree = material.node_tree
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs["Base Color"].default_value = (*colour, 1.0)
    for name, setting in settings.items():
        shader.inputs[name].default_value = setting
    brick = cube(24.0, material)
    look(10.0)
    attach([material], wear, images or pictures(), 1.0, quality)
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


def across_the_edge(tmp_path):
    """What a face shows from 2 mm inside to its edge: 32 pixels of 1/16 mm, the last at the edge."""
    look(2.0)
    bpy.context.scene.camera.location.x = 11.0
    return render(tmp_path, 32, 64)[..., :3].mean(axis=0)
