"""The user's textures in the render: as strong as any other, and clean, never pink, once their file is gone."""

import bpy
import numpy as np
import pytest

from addon import compat
from addon.core.pictures import png
from addon.core.wear.layers import PICTURES, Dust, Scratches, Smudges, Wear
from addon.nodes import builder
from addon.nodes.attach import attach
from addon.nodes.groups.picture import marks, read_as
from addon.nodes.pictures import pictures
from addon.scene import files
from addon.scene.wear import images
from tests.blender.wear.renders import cube, glossy, look, render, stage

WEAR = Wear(0.0, Scratches(0.8, 40.0, 6.0), Smudges(0.8, 60.0), Dust(0.7, 30.0))
SIZE_MM = 8.0


def specks(share, ground, mark, seed):
    draw = np.random.default_rng(seed)
    return np.where(draw.random((64, 64)) < share, ground + (mark - ground) * draw.random((64, 64)), ground)


@pytest.fixture
def folder(tmp_path):
    """Pictures with marks darker than their ground, lighter, and above all greys of a screen."""
    made = tmp_path / "mine"
    made.mkdir()
    (made / "scratches.png").write_bytes(png.encode(specks(0.3, 0.9, 0.1, 0)))
    (made / "smudges.png").write_bytes(png.encode(specks(0.5, 0.1, 0.8, 1)))
    height = bpy.data.images.new("dust", 64, 64, float_buffer=True)
    height.pixels.foreach_set(np.repeat(specks(0.3, 3.0, 1.5, 2).astype(np.float32), 4))
    height.file_format = "OPEN_EXR"
    height.save(filepath=str(made / "dust.exr"))
    bpy.data.images.remove(height)
    return made


@pytest.mark.parametrize("gone", ["deleted", "broken"])
def test_without_its_pictures_a_saved_file_renders_clean(gone, folder, tmp_path):
    """As on another machine: plain Blender opens the file, the pictures did not travel."""
    material = glossy()
    stage(material)
    clean = render(tmp_path)
    attach([material], WEAR, images.find(folder), 0.001)
    assert np.abs(render(tmp_path) - clean).max() > 0.02
    assert {image.name for image in pictures([material])} >= {"scratches.png", "smudges.png", "dust.exr"}
    path = str(tmp_path / "worn.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    for picture in folder.iterdir():
        picture.unlink() if gone == "deleted" else picture.write_bytes(b"broken")
    bpy.ops.wm.open_mainfile(filepath=path)
    # Roughness comes back through a node that mixes by 0: equal to the last digits of a noisy render.
    assert np.abs(render(tmp_path) - clean).max() < 1e-3


@pytest.mark.parametrize("kind", PICTURES)
def test_two_pictures_as_different_as_can_be_mark_a_surface_equally(kind, tmp_path):
    """The mean of the rendered marks over whole repeats, within 3 %; at any amount the layers multiply it alike."""
    found = []
    for number, grey in enumerate((specks(0.45, 0.95, 0.3, 3), specks(0.5, 0.05, 0.7, 4) ** 2)):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / f"{kind}.png").write_bytes(png.encode(grey))
        used = images.find(folder)
        found.append(rendered_mean(used[kind].image, used[kind].levels, tmp_path))
        files.new()
    assert found[0] > 0.01
    assert found[0] == pytest.approx(found[1], rel=0.03)


def rendered_mean(image, read, tmp_path):
    material = bpy.data.materials.new("shown")
    tree = compat.node_tree(material)
    tree.nodes.clear()
    group = builder.group("shown", 1, (), (builder.Socket("Mark", "Strength"),), lambda b: _shown(b, image), (image,))
    read_as(group, read)
    node, shine = tree.nodes.new("ShaderNodeGroup"), tree.nodes.new("ShaderNodeEmission")
    node.node_tree = group
    builder.link(tree, builder.group_socket(node, "OUTPUT", "Mark"), builder.socket(shine.inputs, "Color"))
    surface = builder.socket(tree.nodes.new("ShaderNodeOutputMaterial").inputs, "Surface")
    builder.link(tree, builder.socket(shine.outputs, "Emission"), surface)
    cube(2.0 * SIZE_MM, material)
    look(2.0 * SIZE_MM)
    return float(render(tmp_path, 128, 4)[..., 0].mean())


def _shown(b, image):
    where = b.add("ShaderNodeTexCoord", "Place")
    size = b.math("ADD", SIZE_MM, 0.0)
    b.output("Mark", marks(b, image, builder.socket(where.outputs, "Object"), size))
