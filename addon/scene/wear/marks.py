"""The pictures that wear a build, measured where they are: in the file."""

from collections.abc import Mapping

import bpy

from ...core.remembered import keeping
from ...core.shots.reading import Marks
from ...core.wear import marks
from ...core.wear.layers import PICTURES, Wear
from ...core.wear.texture import MARK, levels
from . import images


def marks_of(pictures: Mapping[bpy.types.Image, str], wear: Wear) -> dict[str, Marks]:
    """How wide the marks of each kind of picture are at the wear's real sizes; none for a picture that is gone, of
    several of a kind those of the coarsest.
    """
    found: dict[str, Marks] = {}
    for image, kind in pictures.items():
        if kind not in PICTURES or not image.size[0]:
            continue
        size_mm, columns = getattr(wear, kind).size_mm, image.size[0]
        kept = image.get(MARK)
        known = isinstance(kept, float) and 0 < kept < 1
        width = max(kept if known else _width_px(image.session_uid, image.filepath) / columns, 1.0 / columns)
        here = Marks(width * size_mm, columns / size_mm)
        found[kind] = min(found.get(kind, here), here, key=lambda each: each.texels_per_mm)
    return dict(sorted(found.items()))


@keeping(16)
def _width_px(uid: int, _path: str) -> float:
    """Measured once a session."""
    grey, _ = images.pixels(next(image for image in bpy.data.images if image.session_uid == uid))
    return marks.width_px(levels(grey).marks(grey))
