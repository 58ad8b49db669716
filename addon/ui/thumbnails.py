"""The pictures of presets as the panel shows them, read once each."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ..core.catalogue import Listed
from ..scene import library

_kept: list[Any] = []  # Blender's one collection of previews, once there is a picture


def icons(listed: Iterable[Listed]) -> list[int]:
    """The number of each preset's picture, 0 for none."""
    return [_icon(library.picture(each)) for each in listed]


def forget() -> None:
    """Gives all pictures back."""
    while _kept:
        _previews().remove(_kept.pop())


def _icon(path: Path | None) -> int:
    if path is None:
        return 0
    if not _kept:
        _kept.append(_previews().new())
    pictures, key = _kept[0], f"{path} {path.stat().st_mtime_ns}"
    if key not in pictures:
        pictures.load(key, str(path), "IMAGE")
    return pictures[key].icon_id


def _previews():
    import bpy.utils.previews  # it is no part of bpy until it is asked for

    return bpy.utils.previews
