"""What the materials of a USD file state, read by Pixar's library; it needs no Blender."""

from collections.abc import Iterable
from typing import Any

from ...core.exports.stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Stated

_INPUTS = {
    "roughness": ROUGHNESS,
    "metallic": METALLIC,
    "ior": IOR,
    "opacity": TRANSMISSION,
    "specularColor": SPECULAR,
}


def stated(prims: Iterable[Any]) -> Stated:
    """What each material among prims states, by its own name."""
    from pxr import UsdShade  # pyright: ignore[reportMissingImports]  Blender's own, where its modules are exposed

    found: dict[str, frozenset[str]] = {}
    for prim in prims:
        if prim.GetTypeName() == "Material":
            surface = UsdShade.Material(prim).ComputeSurfaceSource()[0]
            inputs = surface.GetInputs(onlyAuthored=True) if surface else ()
            says = frozenset(_INPUTS[each.GetBaseName()] for each in inputs if each.GetBaseName() in _INPUTS)
            found[prim.GetName()] = found.get(prim.GetName(), frozenset()) | says
    return found
