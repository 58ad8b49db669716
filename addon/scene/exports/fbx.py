"""FBX."""

from pathlib import Path

import bpy


def load(path: Path) -> None:
    """Reads the file into the scene."""
    bpy.ops.wm.fbx_import(filepath=str(path), use_anim=False)
