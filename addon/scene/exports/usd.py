"""USD: text, crate and package."""

from pathlib import Path

import bpy

from ...core.exports.stated import Stated
from . import usd_gaps, usd_materials


def load(path: Path) -> None:
    """Reads the file into the scene."""
    with usd_gaps.typed(path) as whole:
        load_plain(whole)


def load_plain(path: Path) -> None:
    """The same of a file without gaps."""
    bpy.ops.wm.usd_import(
        filepath=str(path),
        set_frame_range=False,
        import_cameras=False,
        import_lights=False,
        create_world_material=False,
        support_scene_instancing=False,
        apply_unit_conversion_scale=True,
    )


def stated(path: Path) -> Stated:
    """What each material states, by its prim's name; read by Pixar's library, which Blender carries."""
    bpy.utils.expose_bundled_modules()
    from pxr import Usd  # pyright: ignore[reportMissingImports]  Blender's own, there only now

    stage = Usd.Stage.Open(str(path))
    return usd_materials.stated(Usd.PrimRange(stage.GetPseudoRoot(), Usd.TraverseInstanceProxies()))
