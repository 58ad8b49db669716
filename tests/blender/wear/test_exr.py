"""OpenEXR pictures as Blender's own writer packs them: whole, and cut anywhere."""

import bpy
import numpy as np
import pytest

from addon.core.pictures import exr, header

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
