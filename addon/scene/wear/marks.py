"""The pictures that wear a build, measured where they are: in the file."""

from collections.abc import Iterable

import bpy

from ... import raw
from ...core.remembered import keeping
from ...core.shots.reading import Marks
from ...core.wear import marks
from ...core.wear.layers import PICTURES, Wear
from ...core.wear.texture import MARK, STAND_IN, kind_of, levels
from . import images


def marks_of(pictures: Iterable[bpy.types.Image], wear: Wear) -> dict[str, Marks]:
    """How wide the marks of each kind of picture are at the wear's real sizes; none for a picture that is gone."""
    found = {}
    for image in pictures:
        kind = raw.text(image, STAND_IN) or kind_of(image.filepath or image.name)
        if kind not in PICTURES or not image.size[0]:
            continue
        size_mm, columns = getattr(wear, kind).size_mm, image.size[0]
        kept = image.get(MARK)
        known = isinstance(kept, float) and 0 < kept < 1
        width = max(kept if known else _width_px(image.session_uid, image.filepath) / columns, 1.0 / columns)
        found[kind] = Marks(width * size_mm, columns / size_mm)
    return dict(sorted(found.items()))


@keeping(16)
def _width_px(uid: int, _path: str) -> float:
    """Measured once a session."""
    grey, _ = images.pixels(next(image for image in bpy.data.images if image.session_uid == uid))
    return marks.width_px(levels(grey).marks(grey))
