"""glTF 2.0, as text or in one binary file."""

from pathlib import Path

import bpy


def load(path: Path) -> None:
    """Reads the file into the scene."""
    bpy.ops.import_scene.gltf(
        filepath=str(path),
        import_scene_as_collection=False,
        import_scene_extras=False,
        import_select_created_objects=False,
    )
