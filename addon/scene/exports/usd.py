"""USD: text, crate and package."""

from pathlib import Path

import bpy

from ...core.exports.stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Stated

_INPUTS = {
    "roughness": ROUGHNESS,
    "metallic": METALLIC,
    "ior": IOR,
    "opacity": TRANSMISSION,
    "specularColor": SPECULAR,
}


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


def stated(path: Path) -> Stated:
    """What each material states, by its prim's name; read by Pixar's library, which Blender carries."""
    bpy.utils.expose_bundled_modules()
    from pxr import Usd, UsdShade  # pyright: ignore[reportMissingImports]  Blender's own, there only now

    stage = Usd.Stage.Open(str(path))
    found: dict[str, frozenset[str]] = {}
    for prim in Usd.PrimRange(stage.GetPseudoRoot(), Usd.TraverseInstanceProxies()):
        if prim.IsA(UsdShade.Material):
            surface = UsdShade.Material(prim).ComputeSurfaceSource()[0]
            inputs = surface.GetInputs(onlyAuthored=True) if surface else ()
            says = frozenset(_INPUTS[each.GetBaseName()] for each in inputs if each.GetBaseName() in _INPUTS)
            found[prim.GetName()] = found.get(prim.GetName(), frozenset()) | says
    return found
