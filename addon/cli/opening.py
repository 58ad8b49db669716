"""What a command opens; of a large file it says so first, since that takes a while."""

from pathlib import Path

import bpy

from .. import usecases
from ..blender import context
from ..core.errors import ShotProblem
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


def scene(name: str) -> bpy.types.Scene:
    """The scene of the open file that goes by a name, which its window then shows; without one the scene shown."""
    if name and name not in bpy.data.scenes:
        there = ", ".join(each.name for each in bpy.data.scenes[:12])
        raise ShotProblem(f'there is no scene called "{name}": name one that is there ({there})')
    if name:
        context().window.scene = bpy.data.scenes[name]
    return context().scene


def _tell(path: Path) -> None:
    if path.is_file() and path.stat().st_size > _LARGE:
        output.progress(0.0, f"opening {path.name}")
