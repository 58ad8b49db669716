"""What the panel shows of the disk: looked at between two redraws and before each action, never in a redraw."""

from dataclasses import dataclass
from pathlib import Path

import bpy

from .. import usecases
from . import told

_SOON_S = 1.0  # after a redraw


@dataclass(frozen=True)
class Seen:
    """What there was at the last look."""

    presets: tuple[int, ...]  # when each folder of presets was changed
    missing: tuple[str, ...]  # textures in the file whose own files are gone


_seen: Seen | None = None


def seen() -> Seen:
    """The last look; the next one follows soon, and a redraw where it saw something else.

    Without a window nothing is drawn and no timer runs: each call is a look.
    """
    if _seen is None or not _draws():
        look()
    elif not bpy.app.timers.is_registered(_look_and_tell):
        bpy.app.timers.register(_look_and_tell, first_interval=_SOON_S)
    assert _seen is not None
    return _seen


def look() -> bool:
    """Looks now; whether anything has changed since the last time."""
    global _seen
    before = _seen
    _seen = Seen(tuple(map(_changed, usecases.preset_folders().values())), usecases.missing_textures())
    return _seen != before


def forget() -> None:
    """Looks at nothing any more."""
    global _seen
    _seen = None
    if bpy.app.timers.is_registered(_look_and_tell):
        bpy.app.timers.unregister(_look_and_tell)


def _draws() -> bool:
    return not bpy.app.background


def _look_and_tell() -> None:
    if look():
        told.redraw()


def _changed(folder: Path) -> int:
    try:
        return folder.stat().st_mtime_ns
    except OSError:
        return 0
