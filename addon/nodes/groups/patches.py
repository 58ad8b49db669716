"""The step that layers share where they lie in patches: more in some places of a brick, less in others."""

import bpy

from ..builder import Builder, socket


def patches(
    b: Builder, name: str, noise: bpy.types.NodeSocket, ends: tuple[float, float], shares: tuple[float, float]
) -> bpy.types.NodeSocket:
    """A factor that goes smoothly from the first of the shares to the second as the noise goes between the ends."""
    values = {"From Min": ends[0], "From Max": ends[1], "To Min": shares[0], "To Max": shares[1]}
    here = b.add("ShaderNodeMapRange", name, {"Value": noise, **values}, interpolation_type="SMOOTHSTEP")
    return socket(here.outputs, "Result")
