"""The picture that shaders look colours up in, packed into the file, where it is already the one that is there."""

from collections.abc import Generator
from functools import partial

import bpy

from .. import raw
from ..blender import choose, pixels_of
from ..core.slices import sliced
from ..core.wear import swatches
from ..core.wear.names import SWATCHES


def making(tint_delta_e: float, fade_delta_e: float) -> Generator[None, None, bpy.types.Image]:
    """The picture of `core.swatches` for bricks that differ so far (CIEDE2000), made in parts."""
    asked = repr((swatches.VERSION, tint_delta_e, fade_delta_e))
    for there in bpy.data.images:
        if raw.text(there, SWATCHES) == asked and not there.library:
            return there
    pixels = yield from sliced(partial(swatches.picture, tint_delta_e, fade_delta_e))
    rows, columns, _ = pixels.shape
    made = bpy.data.images.new("Playworn colours", columns, rows, alpha=True, float_buffer=True, is_data=True)
    choose(made, alpha_mode="CHANNEL_PACKED")  # alpha is a number as the others are
    pixels_of(made).foreach_set(pixels.ravel())
    made.pack()
    made[SWATCHES] = asked
    return made
