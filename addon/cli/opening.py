"""What a command opens; of a large file it says so first, since that takes a while."""

from pathlib import Path

import bpy

from .. import usecases
from . import output

_LARGE = 4 << 20  # bytes: smaller files are open within a second or two, an empty one takes half of that


def file(path: Path, keep_objects: bool = False, keep_alpha: bool = False) -> None:
    """As `usecases.open_file`."""
    _tell(path)
    usecases.open_file(path, keep_objects, keep_alpha)


def build(path: Path, name: str = "", keep_objects: bool = False, keep_alpha: bool = False) -> bpy.types.Collection:
    """As `usecases.open_build`."""
    _tell(path)
    return usecases.open_build(path, name, keep_objects, keep_alpha)


def _tell(path: Path) -> None:
    if path.is_file() and path.stat().st_size > _LARGE:
        output.progress(0.0, f"opening {path.name}")
