"""The moulded edge radius, as shading: edges catch the light although the mesh is sharp. And where those edges are."""

import bpy

from ..builder import VECTOR, Builder, Socket, group, socket
from .rays import looked_at

_VERSION = 7
_HALF_WAY = 1.0 - 0.5**0.5  # on an edge of 90° the rounded normal leans by 45°
_ROUGHLY = 1e-5  # single precision; less is no lean

_INPUTS = (
    Socket("Normal", "Surface normal to round", VECTOR),
    Socket("Radius", "Edge radius in mm", high=2.0),
    Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),
)
_OUTPUTS = (
    Socket("Normal", "Rounded normal; Cycles only, elsewhere the normal that came in", VECTOR),
    Socket("Edge", "0 on a face, 1 on an edge of 90°, over the width of the radius; Cycles only, elsewhere 0"),
)


def rounding(samples: int) -> bpy.types.NodeTree:
    """The group that rounds edges, with so many rays a look; antialiasing averages what few leave noisy.

    A Bevel node's radius is in world units whatever the object's own scale.
    """
    return group(f"rounding {samples}", _VERSION, _INPUTS, _OUTPUTS, lambda b: _build(b, samples))


def _build(b: Builder, samples: int) -> None:
    wanted = b.math("MULTIPLY", b.input("Radius"), looked_at(b), "Worth rays")
    radius = b.math("MULTIPLY", wanted, b.input("Scale"), "Radius in world units")
    bevel = b.add("ShaderNodeBevel", "Round", {"Radius": radius, "Normal": b.input("Normal")}, samples=samples)
    rounded = socket(bevel.outputs, "Normal")
    b.output("Normal", b.unless_zero(wanted, b.input("Normal"), rounded, "Rounded"))

    with b.frame("One Bevel node serves both: it costs as much as all the rest"):
        straight = b.math("DIVIDE", b.dot(rounded, b.input("Normal")), b.length(b.input("Normal")), "Straight")
        leaning = b.multiply_add(straight, -1.0 / _HALF_WAY, (1.0 - _ROUGHLY) / _HALF_WAY, "Leaning", clip=True)
        b.output("Edge", b.math("SQRT", leaning, name="About the angle"))
