"""Passes as they are in the files: decoded by the OpenEXR library and by the Cryptomatte specification, the masks held
against what Cycles itself says of the surface."""

import os
import subprocess
import sys
from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import cli, compat, usecases
from addon.core.errors import FileProblem, ShotProblem
from addon.core.shots.shot import Shot
from addon.core.wear import kinds
from addon.core.wear.fade import ABSORBED, CHALK
from addon.core.wear.layers import Dust, Fade, Rub, Scratches, Tint, Wear
from addon.core.wear.names import MOTION, PASSES
from addon.nodes import builder, insertion
from addon.nodes.groups import dust, rub, scratches
from addon.scene.shots import task
from tests.blender import scenes
from tests.render.layered import Layered, identifier, murmur

RED = (0.5, 0.01, 0.02)
DIALS = usecases.Dials(seed=7, looseness=1.5)
ALIKE = {
    *(f"Combined.{part}" for part in "RGBA"),
    *(f"Normal.{part}" for part in "XYZ"),
    "Depth.Z",
    *(f"Crypto{of}0{level}.{part}" for of in ("Object", "Material") for level in range(3) for part in "rgba"),
    *(f"{name}.X" for name in PASSES),
}
# What the Blenders call otherwise: 4.5, and 5.0 with those after it.
OTHERWISE = (
    {f"{few}{of}.{part}" for few in ("Diff", "Gloss") for of in ("Dir", "Ind", "Col") for part in "RGB"},
    {f"{w} {of}.{p}" for w in ("Diffuse", "Glossy") for of in ("Direct", "Indirect", "Color") for p in "RGB"},
)

WITHOUT = """
import os, sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1])
bpy.context.scene.render.filepath = sys.argv[2]
bpy.ops.render.render(write_still=True)
os._exit(int("addon" in sys.modules))
"""


@pytest.fixture
def wall(set_up) -> bpy.types.Collection:
    """The wall without film behind it, at a few samples, in a scene of two frames."""
    scene = bpy.context.scene
    scene.render.film_transparent, scene.frame_end = True, 2
    scene.camera.location, scene.camera.rotation_euler = (0.056, -0.045, 0.09), (0.8, 0.0, 0.1)  # tops have dust
    return set_up


def shot() -> Shot:
    (only,) = usecases.list_shots(bpy.context.scene)
    return only


def rendered(wall, folder, **changes) -> Layered:
    """The first frame with all passes."""
    usecases.render_shots(wall, bpy.context.scene, [replace(shot(), last=1, **changes)], folder, anew=True)
    return Layered(folder / "scene.0001.exr")


def matt(wall) -> None:
    """Bricks of nothing but a diffuse shader: its albedo, a pass of Cycles', is the colour that the wear gives it."""
    tree = bpy.data.materials["red"].node_tree
    tree.nodes.remove(tree.nodes["Principled BSDF"])
    shader = tree.nodes.new("ShaderNodeBsdfDiffuse")
    shader.inputs["Color"].default_value = (*RED, 1.0)
    tree.links.new(shader.outputs[0], next(n for n in tree.nodes if n.type == "OUTPUT_MATERIAL").inputs["Surface"])


def worn(**layers) -> usecases.State:
    wear = Wear(0.4, Scratches(layers.pop("scratched", 0.0), 40.0, 3.0), **layers)
    return replace(scenes.PRESET, wear=wear)


def test_the_hash_is_that_of_the_specification():
    """The first two from the specification, the others recalled; all of them as the library mmh3 has them."""
    assert murmur(b"torus") == 4053562365
    assert murmur("равнина".encode()) == 2518896926
    assert murmur(b"", 1) == 0x514E28B7
    assert murmur(b"test", 0x9747B28C) == 0x704B81DC
    assert murmur(b"The quick brown fox jumps over the lazy dog") == 0x2E4FF723
    assert np.uint32(identifier("torus")).view(np.float32) == np.float32(-1.54943624832e30)


def test_channels_have_the_same_names_in_every_blender_and_on_every_layer(wall, tmp_path):
    scene = bpy.context.scene
    scene.view_layers.new("props")
    scene.view_layers.new("unused").use = False
    made = scene.view_layers[0].aovs.add()
    made.name, made.type = "skin", "VALUE"
    usecases.apply(wall, scenes.PRESET, DIALS)
    file = rendered(wall, tmp_path)
    assert file.parts == 1
    assert {each.dtype for each in file.channels.values()} == {np.dtype(np.float32)}
    for layer in ("ViewLayer", "props"):
        names = {name.removeprefix(f"{layer}.") for name in file.channels if name.startswith(f"{layer}.")}
        assert names - {"skin.X"} in [ALIKE | other for other in OTHERWISE]
    assert "ViewLayer.skin.X" in file.channels
    assert not any(name.startswith("unused.") for name in file.channels)


@pytest.mark.parametrize(
    ("preset", "name", "share", "towards"),
    [
        (worn(dust=Dust(0.8, 30.0)), "dust", 1.0, dust._COLOUR),
        (worn(rub=Rub(1.0)), "rub", kinds.RUBBED[kinds.OPAQUE].whitening, rub._PALE[:3]),
        (
            worn(scratched=1.0),
            "scratches",
            kinds.RUBBED[kinds.OPAQUE].whitening * scratches._PALER,
            scratches._TURNED[:3],
        ),
    ],
    ids=["dust", "rub", "scratches"],
)
def test_a_mask_is_what_the_shader_mixes_by(wall, tmp_path, preset, name, share, towards):
    """Cycles' own albedo is the clean colour, and by so much the layer's as the mask says."""
    matt(wall)
    usecases.apply(wall, preset, DIALS)
    new = wall.objects["part.0013"]
    usecases.give_amount(wall, [new], 0.0)
    file = rendered(wall, tmp_path)
    mask = file.value(f"playworn_{name}")
    assert 0.0 <= mask.min() < 0.5 * mask.max()
    assert mask.max() > 0.05
    red = np.array(RED)
    wanted = file.alpha[..., None] * red + share * mask[..., None] * (np.array(towards) - red)
    assert np.abs(file.albedo - wanted).max() < 1e-4
    assert mask[file.matte("CryptoObject", new.name) > 0.999].max() == 0.0


def test_lots_and_age_are_told_as_the_colour_shows_them(wall, tmp_path):
    matt(wall)
    usecases.apply(wall, worn(tint=Tint(4.0)), DIALS)
    file = rendered(wall, tmp_path)
    full = np.max([file.matte("CryptoObject", thing.name) for thing in wall.objects], axis=0) > 0.999
    off = np.linalg.norm(file.albedo[full] / np.array(RED) - 1.0, axis=-1)
    assert np.abs(file.value("playworn_tint")[full] - off).max() < 1e-4
    assert off.max() > 0.05

    usecases.apply(wall, worn(fade=Fade(12.0)), DIALS)
    file = rendered(wall, tmp_path)
    (node,) = insertion.ours(bpy.data.materials["red"].node_tree)
    both = np.array([builder.group_socket(node, "INPUT", name).default_value for name in ("Yellowing", "Bleaching")])
    yellow, bleach = (file.value("playworn_fade")[full][:, None] * part for part in both / both.max())
    aged = (np.array(RED) + bleach * (np.array(CHALK) - RED)) * (1.0 - yellow * np.array(ABSORBED))
    assert np.abs(file.albedo[full] - aged).max() < 2e-3  # the mean of a pixel is not that of a product
    assert np.ptp(file.value("playworn_fade")[full]) > 0.05


def test_mixed_shaders_hand_out_a_mask_once(wall, tmp_path):
    usecases.apply(wall, worn(dust=Dust(0.8, 30.0)), DIALS)
    once = rendered(wall, tmp_path).value("playworn_dust")
    tree = bpy.data.materials["red"].node_tree
    second, mixer = tree.nodes.new("ShaderNodeBsdfDiffuse"), tree.nodes.new("ShaderNodeMixShader")
    first, out = tree.nodes["Principled BSDF"], next(n for n in tree.nodes if n.type == "OUTPUT_MATERIAL")
    for number, shader in enumerate((first, second), start=1):
        tree.links.new(shader.outputs[0], mixer.inputs[number])
    tree.links.new(mixer.outputs[0], out.inputs["Surface"])
    usecases.apply(wall, worn(dust=Dust(0.8, 30.0)), DIALS)
    assert np.abs(rendered(wall, tmp_path).value("playworn_dust") - once).max() < 1e-5
    assert once.max() > 0.1


def test_a_bricks_matte_is_what_is_seen_of_it(wall, tmp_path):
    """Decoded by the specification, against a render in which this brick alone shines."""
    usecases.apply(wall, scenes.PRESET, DIALS)
    wall.objects["part.0013"].name = "Stein ä"
    file = rendered(wall, tmp_path)
    manifest = file.manifest("CryptoObject")
    assert manifest.keys() >= {thing.name for thing in wall.objects}
    for names in (manifest, file.manifest("CryptoMaterial")):  # of Blender's the hash, not yet made a sound float
        assert all(int(told, 16) == murmur(name.encode()) for name, told in names.items())
    matte = file.matte("CryptoObject", "Stein ä")

    shining = bpy.data.materials.new("shining")
    if shining.node_tree is None:
        shining.use_nodes = True
    tree = shining.node_tree
    tree.nodes.clear()
    is_it, light = tree.nodes.new("ShaderNodeAttribute"), tree.nodes.new("ShaderNodeEmission")
    is_it.attribute_type, is_it.attribute_name = "OBJECT", "shines"
    tree.links.new(is_it.outputs["Fac"], light.inputs["Strength"])
    tree.links.new(light.outputs[0], tree.nodes.new("ShaderNodeOutputMaterial").inputs["Surface"])
    wall.objects["Stein ä"]["shines"] = 1.0
    bpy.context.view_layer.material_override = shining
    seen = rendered(wall, tmp_path).colour("Combined")[..., 0]
    assert np.abs(matte - seen).max() < 1e-5
    assert 0.05 < matte.mean() < 0.5
    assert ((matte > 0.01) & (matte < 0.99)).any()


def test_the_motion_pass_shows_each_brick_its_way(wall, tmp_path):
    usecases.apply(wall, scenes.PRESET, DIALS)
    usecases.put_passes_on(wall, bpy.context.scene)
    file = rendered(wall, tmp_path)
    for thing in wall.objects:
        inside = file.matte("CryptoObject", thing.name) > 0.999
        assert np.abs(file.value(MOTION)[inside] - thing[MOTION]).max(initial=0.0) < 1e-6
    assert file.value(MOTION).max() > 0.03


def test_a_saved_file_renders_the_same_passes_without_the_extension(wall, tmp_path):
    usecases.apply(wall, scenes.PRESET, DIALS)
    usecases.put_passes_on(wall, bpy.context.scene)
    here = rendered(wall, tmp_path)
    task.set_output(bpy.context.scene)
    usecases.save(tmp_path / "passes.blend")
    run = subprocess.run(
        [sys.executable, "-c", WITHOUT, tmp_path / "passes.blend", tmp_path / "without.exr"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": ""}, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    there = Layered(tmp_path / "without.exr")
    assert there.channels.keys() == here.channels.keys()
    assert all(np.array_equal(there.channels[name], values) for name, values in here.channels.items())


def test_passes_change_no_pixel(wall, tmp_path):
    usecases.apply(wall, scenes.PRESET, DIALS)
    scene = bpy.context.scene
    scene.render.filepath = str(tmp_path / "plain.exr")
    bpy.ops.render.render(write_still=True)
    plain = Layered(tmp_path / "plain.exr")
    with_passes = rendered(wall, tmp_path)
    for part in "RGB":
        assert np.array_equal(plain.channels[part], with_passes.channels[f"ViewLayer.Combined.{part}"])


def test_light_groups_are_in_the_file_and_add_up_to_the_beauty(wall, tmp_path):
    """As Blender's manual has it: the passes of all light groups, added, are the combined pass."""
    scene, groups = bpy.context.scene, bpy.context.view_layer.lightgroups
    scene.world = bpy.data.worlds.new("sky")
    compat.node_tree(scene.world)
    for name, lit in (("key", bpy.data.objects["window"]), ("sky", scene.world)):
        groups.add(name=name)
        lit.lightgroup = name
    usecases.apply(wall, scenes.PRESET, DIALS)
    file = rendered(wall, tmp_path)
    key, sky = file.colour("Combined_key"), file.colour("Combined_sky")
    assert min(key.max(), sky.max()) > 0.01
    assert np.abs(key + sky - file.colour("Combined")).max() < 1e-4


def test_a_frame_that_is_there_stays_and_the_scene_is_as_before(wall, tmp_path):
    usecases.apply(wall, scenes.PRESET, DIALS)
    scene = bpy.context.scene
    scene.render.filepath, scene.frame_current = "//artists_", 2
    form = scene.render.image_settings
    before = form.file_format, form.color_depth, form.color_mode, scene.render.filepath, scene.frame_current
    wide, near = shot(), bpy.data.objects.new("near", scene.camera.data.copy())
    near.matrix_world, near.data.lens = scene.camera.matrix_world, 90.0
    scene.collection.objects.link(near)
    scene.timeline_markers.new("wide", frame=1).camera = scene.camera
    first = usecases.render_shots(wall, scene, [replace(wide, last=1)], tmp_path)
    assert [(each.rendered, each.there) for each in first] == [(1, 0)]
    kept = (tmp_path / "scene.0001.exr").stat()
    both = usecases.render_shots(wall, scene, [wide, Shot("near", "near", 1, 1)], tmp_path)
    assert [(each.rendered, each.there) for each in both] == [(1, 1), (1, 0)]
    assert (tmp_path / "scene.0001.exr").stat() == kept
    assert sorted(path.name for path in tmp_path.iterdir()) == ["near.0001.exr", "scene.0001.exr", "scene.0002.exr"]
    depths = [Layered(tmp_path / f"{name}.0001.exr").value("Depth") for name in ("scene", "near")]
    assert not np.array_equal(*depths)  # though the marker's camera is another
    assert before == (
        form.file_format, form.color_depth, form.color_mode, scene.render.filepath, scene.frame_current
    )  # fmt: skip
    assert scene.timeline_markers["wide"].camera == scene.camera == bpy.data.objects["camera"]
    assert not scene.view_layers[0].aovs
    assert not usecases.shots_of(wall)
    assert MOTION not in wall.objects[0]


def test_shots_are_rendered_as_they_are_dialled(wall, tmp_path):
    usecases.apply(wall, scenes.PRESET, DIALS)
    scene = bpy.context.scene
    usecases.keep_shots(scene)
    usecases.dial_shots(scene, {("scene", "dust"): 0.0, ("scene", "looseness"): 0.0})
    usecases.render_shots(wall, scene, [replace(shot(), last=1)], tmp_path)
    file = Layered(tmp_path / "scene.0001.exr")
    assert file.value("playworn_dust").max() == 0.0
    assert file.value("playworn_scratches").max() > 0.05
    assert file.value(MOTION).max() < 1e-3
    assert not usecases.shots_of(wall)


def test_what_cannot_be_rendered_is_told_before_anything_is_written(wall, tmp_path):
    usecases.apply(wall, scenes.PRESET, DIALS)
    scene = bpy.context.scene
    lost = bpy.data.images.load(str(_picture(tmp_path)))
    lost.use_fake_user = True
    (tmp_path / "plate.png").unlink()
    with pytest.raises(FileProblem, match=r"plate\.png cannot be found"):
        usecases.render_shots(wall, scene, [shot()], tmp_path / "frames")
    bpy.data.images.remove(lost)
    scene.render.engine = "BLENDER_WORKBENCH"
    with pytest.raises(ShotProblem, match="Workbench"):
        usecases.render_shots(wall, scene, [shot()], tmp_path / "frames")
    assert not list(tmp_path.rglob("*.exr"))
    assert not scene.view_layers[0].aovs


def test_the_commands(wall, tmp_path, monkeypatch, capfd):
    usecases.apply(wall, scenes.PRESET, DIALS)
    monkeypatch.chdir(tmp_path)
    usecases.save(tmp_path / "worn.blend")

    def run(*words) -> int:
        return cli.main(list(words))

    assert run("render", "worn.blend", "--frames", "2", "--out", "deep/frames") == 0
    assert [path.name for path in (tmp_path / "deep" / "frames").iterdir()] == ["scene.0002.exr"]
    assert run("render", "worn.blend", "--frames", "7-9", "--out", "none") == 1
    assert "no shot has a frame from 7 to 9" in capfd.readouterr().err
    assert run("render", "worn.blend", "--frames", "9-7", "--out", "none") == 2
    assert run("render", "worn.blend", "--shot", "sh010", "--out", "none") == 1
    assert not (tmp_path / "none").exists()
    assert run("passes", "worn.blend", "--out", "on.blend") == 0
    usecases.open_build(tmp_path / "on.blend")
    assert usecases.passes_on(bpy.context.scene) == ["ViewLayer"]
    assert run("passes", "on.blend", "--off", "--out", "off.blend") == 0
    usecases.open_build(tmp_path / "off.blend")
    assert usecases.passes_on(bpy.context.scene) == []


def _picture(folder):
    image = bpy.data.images.new("plate", 4, 4)
    image.filepath_raw, image.file_format = str(folder / "plate.png"), "PNG"
    image.save()
    bpy.data.images.remove(image)
    return folder / "plate.png"
