"""glTF 2.0, as text or in one binary file."""

from pathlib import Path

import bpy

from ...core import gltf
from ...core.stated import Stated


def load(path: Path) -> None:
    """Reads the file into the scene."""
    bpy.ops.import_scene.gltf(
        filepath=str(path),
        import_scene_as_collection=False,
        import_scene_extras=False,
        import_select_created_objects=False,
    )


def stated(path: Path) -> Stated:
    """What each material states; of a .glb the pictures and shapes are not read."""
    with path.open("rb") as file:
        data = file.read(gltf.HEADER + gltf.CHUNK)
        is_binary = data[: len(gltf.MAGIC)] == gltf.MAGIC
        data += file.read(gltf.length(data) if is_binary else -1)
    return gltf.stated(gltf.document(data))
