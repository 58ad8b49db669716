"""What is in a .blend that is not open: read beside the open file, of which nothing changes."""

import os.path
from pathlib import Path

import bpy

from ...core.errors import FileProblem
from ...stdout import errors_dropped, kept_clean
from ..build import state
from ..build.state import State


def applied(path: Path) -> dict[str, State]:
    """What was applied to each build of a .blend, by the build's name.

    Raises FileProblem where the file cannot be read and PresetProblem where a newer version made it.
    """
    if path.suffix.lower() != ".blend":
        raise FileProblem(f'"{path}" is no .blend file: choose one that has a look on it')
    if not os.path.isfile(path):
        raise FileProblem(f'"{path}" does not exist: check the name and the folder')
    try:
        with kept_clean(), errors_dropped():
            return _applied(str(path.resolve()))
    except OSError:
        raise FileProblem(f'"{path}" cannot be read as a .blend file: it is damaged or something else') from None


def _applied(path: str) -> dict[str, State]:
    # Blender ends the process when temporary data is to hold what is no .blend; this way it raises.
    with bpy.data.libraries.load(path, link=True):  # type: ignore[attr-defined]  the stand-in for bpy lacks its end
        pass
    with bpy.data.temp_data() as beside:  # type: ignore[attr-defined]  the same
        with beside.libraries.load(path, link=True) as (there, wanted):
            wanted.collections, wanted.scenes = list(there.collections), list(there.scenes)
        rooms = [*beside.collections, *(scene.collection for scene in beside.scenes)]
        return {room.name: found for room in rooms if (found := state.recall(room)) is not None}
