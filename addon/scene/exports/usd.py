"""USD: text, crate and package."""

from pathlib import Path

import bpy


def load(path: Path) -> None:
    """Reads the file into the scene."""
    bpy.ops.wm.usd_import(
        filepath=str(path),
        set_frame_range=False,
        import_cameras=False,
        import_lights=False,
        create_world_material=False,
        support_scene_instancing=False,
        apply_unit_conversion_scale=True,
    )
