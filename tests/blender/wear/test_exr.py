"""OpenEXR pictures as Blender's own writer packs them, whole and cut anywhere, and of layouts that it does not
write."""

import re

import bpy
import numpy as np
import pytest

from addon import compat
from addon.core.errors import TextureProblem
from addon.core.pictures import exr, header
from addon.scene import pictures
from addon.scene.wear import findings, images
from tests.blender.wear.exr_files import written
from tests.blender.wear.renders import look

SIZES = {"scratches": 40.0, "smudges": 60.0, "dust": 30.0}

CODECS = [each.identifier for each in bpy.types.ImageFormatSettings.bl_rna.properties["exr_codec"].enum_items]


@pytest.fixture
def packed(tmp_path):
    """A picture's bytes, by the kind of compression."""

    def written(codec: str) -> bytes:
        image = bpy.data.images.new("grey", 70, 133, float_buffer=True)
        image.pixels.foreach_set(np.random.default_rng(0).random(4 * 70 * 133, dtype=np.float32))
        settings = bpy.context.scene.render.image_settings
        settings.file_format, settings.color_depth = "OPEN_EXR", "16"  # some pack no others
        settings.exr_codec = codec
        image.save_render(str(tmp_path / "grey.exr"))
        return (tmp_path / "grey.exr").read_bytes()

    return written


@pytest.mark.parametrize("codec", CODECS)
def test_one_that_is_cut_is_told_from_a_whole_one(codec, packed):
    picture = packed(codec)
    assert exr.is_whole(picture)
    assert header.fault(picture) == ""
    for end in np.linspace(8, len(picture) - 1, 40).astype(int).tolist():
        assert not exr.is_whole(picture[:end])
        assert header.fault(picture[:end])


GREY = np.random.default_rng(0).random((24, 40)).astype(np.float32)
OTHER = (1.0 - GREY).astype(np.float32)


def colours(before="", grey=GREY):
    return {f"{before}{channel}": grey for channel in "RGB"}


LAYOUTS = {
    "plain": written(colours()),
    "of half floats": written(colours(grey=GREY.astype(np.float16))),
    "in tiles": written(colours(), tiled=True),
    "of brightness alone": written({"Y": GREY}),
    "with alpha": written({**colours(), "A": OTHER}),
    "of one channel with a name of its own": written({"height": GREY}),
    "of depths": written({"Z": GREY}),
    "of alpha alone": written({"A": GREY}),
    "of a named layer": written(colours("wear.scratches.")),
    "of a named height": written({"wear.height": GREY}),
    "of a named layer in tiles": written(colours("scratches."), tiled=True),
    "of a plain layer and another": written({**colours(), **colours("depth.", OTHER)}),
    "of two named layers": written({**colours("dust.", OTHER), **colours("scratch."), **colours("zebra.", OTHER)}),
    "of several parts": written(colours(), colours(grey=OTHER), names=("first", "second")),
    "of parts of which the second is for it": written(colours(grey=OTHER), colours(), names=("dust", "scratches")),
    "of parts in tiles": written(colours(), colours(grey=OTHER), names=("a", "b"), tiled=True),
    "of parts with layers": written(colours("dust.", OTHER), colours("hairlines."), names=("a", "b")),
}


@pytest.mark.shared_out
@pytest.mark.parametrize("layout", LAYOUTS)
def test_any_layout_gives_the_picture_that_its_names_tell_of(layout, tmp_path):
    """Blender reads what is left of it, whose reader knows nothing of ours."""
    (tmp_path / "scratches.exr").write_bytes(LAYOUTS[layout])
    (found,) = findings.survey(tmp_path, SIZES)
    assert found.is_read
    assert (found.width_px, found.height_px, found.kind) == (40, 24, "scratches")
    image = images.find(tmp_path)["scratches"].image
    seen, _ = images.pixels(image)
    assert np.abs(seen[::-1] - GREY).max() < 1e-3
    assert images.find(tmp_path)["scratches"].image == image
    assert len([each for each in bpy.data.images if each.name.startswith("scratches")]) == 1


def test_which_layer_is_used_is_told_where_there_are_several(tmp_path):
    (tmp_path / "scratches.exr").write_bytes(LAYOUTS["of two named layers"])
    (found,) = findings.survey(tmp_path, SIZES)
    assert 'It holds several layers: "scratch" is used of "dust", "scratch", "zebra".' in found.warnings
    (tmp_path / "scratches.exr").write_bytes(LAYOUTS["of a named layer"])
    (found,) = findings.survey(tmp_path, SIZES)
    assert not any("layers" in warning for warning in found.warnings)


UNREAD = {
    "is cut": LAYOUTS["of parts in tiles"][:-9],
    "deep pixels": written(colours(), colours(), names=("a", "b")).replace(b"scanlineimage", b"deepscanline\0"),
    'its layers "dust", "scratch" in a way (DWA)': written({**colours("dust."), **colours("scratch.")}, packing=8),
}


@pytest.mark.parametrize("words", UNREAD)
def test_what_cannot_be_read_is_told_by_its_reason(words, tmp_path):
    (tmp_path / "scratches.exr").write_bytes(UNREAD[words])
    (found,) = findings.survey(tmp_path, SIZES)
    assert not found.is_read
    assert words in found.warnings[0]
    with pytest.raises(TextureProblem, match=re.escape(words)):
        images.find(tmp_path)
    assert not bpy.data.images


@pytest.mark.parametrize("layout", LAYOUTS)
def test_any_layout_that_is_cut_or_spoiled_gets_an_answer(layout, tmp_path):
    draw, whole = np.random.default_rng(1), LAYOUTS[layout]
    for _ in range(200):
        spoiled = bytearray(whole[: draw.integers(8, len(whole))])
        for at in draw.integers(8, min(len(spoiled), 600), 3) if len(spoiled) > 8 else ():
            spoiled[at] = draw.integers(0, 256)
        (tmp_path / "dust.exr").write_bytes(spoiled)
        assert isinstance(pictures.fault(tmp_path / "dust.exr"), str)


def test_what_blender_renders_in_layers_is_read(tmp_path):
    """Blender's own writer of layers: a world of 0.25 all over."""
    scene = bpy.context.scene
    world = scene.world = bpy.data.worlds.new("grey")
    background = next(node for node in compat.node_tree(world).nodes if node.bl_idname == "ShaderNodeBackground")
    background.inputs["Color"].default_value = (0.25, 0.25, 0.25, 1.0)
    look(1.0)
    scene.render.engine, scene.cycles.samples = "CYCLES", 1
    scene.render.resolution_x = scene.render.resolution_y = 16
    scene.view_layers[0].use_pass_z = True
    compat.set_file_format(scene.render.image_settings, "OPEN_EXR_MULTILAYER")
    scene.render.filepath = str(tmp_path / "dust.exr")
    bpy.ops.render.render(write_still=True)
    (found,) = findings.survey(tmp_path, SIZES)
    assert (found.width_px, found.is_read) == (16, True)
    assert found.level_50 == pytest.approx(0.25, abs=1e-3)
    assert "Combined" in " ".join(found.warnings)
