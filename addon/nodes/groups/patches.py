"""The step that layers share where they lie in patches: more in some places of a brick, less in others."""

import bpy

from ..builder import Builder, socket


def patches(
    b: Builder,
    name: str,
    place_mm: bpy.types.NodeSocket,
    apart_mm: float,
    noise: tuple[float, float],
    shares: tuple[float, float],
) -> bpy.types.NodeSocket:
    """A factor that goes smoothly from the first of the shares to the second as the noise does.

    Patches lie so many mm apart; below the first value of the noise, of 0 to 1, there is all of one, above the second
    all of the other.
    """
    inputs = {"Vector": place_mm, "Scale": 1.0 / apart_mm, "Detail": 0.0}
    drawn = socket(b.add("ShaderNodeTexNoise", name, inputs).outputs, "Fac")
    ends = {"From Min": noise[0], "From Max": noise[1], "To Min": shares[0], "To Max": shares[1]}
    here = b.add("ShaderNodeMapRange", f"{name} here", {"Value": drawn, **ends}, interpolation_type="SMOOTHSTEP")
    return socket(here.outputs, "Result")
