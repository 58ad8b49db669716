"""FBX."""

from pathlib import Path

import bpy

from ...core import fbx
from ...core.stated import Stated


def load(path: Path) -> None:
    """Reads the file into the scene."""
    bpy.ops.wm.fbx_import(filepath=str(path), use_anim=False)


def stated(path: Path) -> Stated:
    """What each material states."""
    return fbx.stated(path.read_bytes())
