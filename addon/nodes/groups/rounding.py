"""The moulded edge radius, as shading: edges catch the light although the mesh is sharp."""

import bpy

from ..builder import VECTOR, Builder, Socket, group, socket

_VERSION = 1
_SAMPLES = 4  # antialiasing averages the rest; 16 cost more than twice the render time

_INPUTS = (
    Socket("Normal", "Surface normal to round; left unlinked, the surface's own", VECTOR),
    Socket("Radius", "Edge radius in mm", high=2.0),
    Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),
)
_OUTPUTS = (Socket("Normal", "Rounded normal; Cycles only, elsewhere the normal that came in", VECTOR),)


def rounding() -> bpy.types.NodeTree:
    """The group that rounds edges. A Bevel node's radius is in world units whatever the object's own scale."""
    return group("rounding", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    radius = b.math("MULTIPLY", b.input("Radius"), b.input("Scale"), "Radius in world units")
    bevel = b.add("ShaderNodeBevel", "Round", {"Radius": radius, "Normal": b.input("Normal")}, samples=_SAMPLES)
    b.output("Normal", socket(bevel.outputs, "Normal"))
