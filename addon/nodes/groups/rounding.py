"""The moulded edge radius, as shading: edges catch the light although the mesh is sharp. And where those edges are."""

import bpy

from ..builder import VECTOR, Builder, Socket, Value, group, socket
from .rays import looked_at

_VERSION = 8
_HALF_WAY = 1.0 - 0.5**0.5  # on an edge of 90° the rounded normal leans by 45°
_ROUGHLY = 1e-5  # single precision; less is no lean
_TILT, _FEELERS, _FEEL_RADII = 1.5, 4, 5.0  # how steeply, how often and how far a wall is felt for

_INPUTS = (
    Socket("Normal", "Surface normal to round", VECTOR),
    Socket("Radius", "Edge radius in mm", high=2.0),
    Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),
)
_OUTPUTS = (
    Socket("Normal", "Rounded normal; Cycles only, elsewhere the normal that came in", VECTOR),
    Socket("Edge", "0 on a face and in an inward corner, 1 on an edge of 90°; Cycles only, elsewhere 0"),
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
        edge = b.math("SQRT", leaning, name="About the angle")
    b.output("Edge", b.math("MULTIPLY", edge, _outward(b, rounded, edge), "Outward edge"))


def _outward(b: Builder, rounded: Value, edge: Value) -> Value:
    """1 on an edge that stands out, 0 in a corner where two faces meet inward, as at a stud's foot.

    A rounded normal leans away from the edge that it rounds where that is an inward corner: the wall stands behind it.
    At an outward edge nothing does. Feelers are sent on edges alone.
    """
    with b.frame("Behind the lean of an inward corner stands its wall, behind that of an edge nothing"):
        lean = b.vector("SUBTRACT", rounded, b.input("Normal"), "Lean")
        ahead = b.add("ShaderNodeVectorMath", "Its way", {"Vector": lean}, operation="NORMALIZE")
        tilted = {
            "Vector": socket(ahead.outputs, "Vector"),
            "Vector_001": (-_TILT,) * 3,
            "Vector_002": b.input("Normal"),
        }
        behind = b.add("ShaderNodeVectorMath", "Behind it", tilted, operation="MULTIPLY_ADD")
        way = b.add(
            "ShaderNodeVectorMath", "Way back", {"Vector": socket(behind.outputs, "Vector")}, operation="NORMALIZE"
        )
        reach = b.math("MULTIPLY", b.math("MULTIPLY", b.input("Radius"), b.input("Scale")), _FEEL_RADII, "Far enough")
        worth = b.math("MULTIPLY", reach, b.math("GREATER_THAN", edge, 0.0), "On edges alone")
        felt = b.add(
            "ShaderNodeAmbientOcclusion",
            "Feelers",
            {"Distance": worth, "Normal": socket(way.outputs, "Vector")},
            samples=_FEELERS,
            only_local=True,
        )
        return b.math("GREATER_THAN", socket(felt.outputs, "AO"), 0.999, "None met a wall")
