"""The pictures of presets as the panel shows them, read once each."""

from collections.abc import Iterable
from typing import Any

from ...core.presets.catalogue import Listed
from . import choices

_STANDIN = "none"
_SIZE, _GREY = (16, 12), (0.32, 0.32, 0.32, 1.0)

_kept: list[Any] = []  # Blender's one collection of previews, once there is a picture


def icons(listed: Iterable[Listed]) -> list[int]:
    """The number of each preset's picture, that of a grey one where there is none yet; 0 for a broken preset."""
    return [_icon(each) for each in listed]


def forget() -> None:
    """Gives all pictures back."""
    while _kept:
        _previews().remove(_kept.pop())


def _icon(listed: Listed) -> int:
    if listed.problem or choices.preset(listed.name) is None:
        return 0
    if not _kept:
        _kept.append(_previews().new())
    pictures, made = _kept[0], choices.picture(listed)
    key = f"{made[0]} {made[1]}" if made else _STANDIN
    if key not in pictures and made:
        pictures.load(key, str(made[0]), "IMAGE")
    elif key not in pictures:
        grey = pictures.new(key)
        grey.image_size = _SIZE
        grey.image_pixels_float = _GREY * (_SIZE[0] * _SIZE[1])
    return pictures[key].icon_id


def _previews():
    import bpy.utils.previews  # it is no part of bpy until it is asked for

    return bpy.utils.previews
