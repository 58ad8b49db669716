"""COLLADA."""

from pathlib import Path

import bpy

from ... import compat
from ...core.errors import FileProblem


def load(path: Path) -> None:
    """Reads the file into the scene; FileProblem where this Blender has no reader for it."""
    if not compat.has_operator("wm", "collada_import"):
        raise FileProblem(
            f'"{path}" is a .dae file, which this Blender no longer reads: export the build as .glb instead'
        )
    bpy.ops.wm.collada_import(filepath=str(path))
