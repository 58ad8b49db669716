"""Faces that a mould left not quite flat, slow waves and sinks where plastic is thick: a mirrored window bends in them.

The slopes are those of a height in space, so that they run on round every edge, whichever way a face looks.
"""

from math import pi

import bpy

from ...core.sizes import TRADE
from ...core.units import UM_PER_MM
from ..builder import VECTOR, Builder, Result, Socket, Value, group, socket

_VERSION = 1
# How far waves go in mm: about as far as a part, which shrinks as one and bows; common practice, no published source.
_WAVES_MM = (52.0, 37.0, 44.0)
_HIGHEST = 6.0  # amplitudes of one wave from the lowest to the highest that three of them add up to

_INPUTS = (
    Socket("Normal", "Normal of the flat surface", VECTOR),
    Socket("Own", "Position in mm along the brick's own axes, elsewhere on each brick", VECTOR),
    Socket("Spot", "Position in mm along the brick's own axes, whole pitches at its studs", VECTOR),
    Socket("Studded", "1 on a brick whose studs are found by its spot, else 0"),
    Socket("Amount", "0 as exported, 1 as moulded"),
    Socket("Warp", "µm from the lowest to the highest place of a large face", high=1000.0),
    Socket("Sink", "µm by which a face lies lower where plastic is thick behind it", high=1000.0),
)
_OUTPUTS = (Socket("Normal", "Normal of the surface as it came out of the mould", VECTOR),)


def warp() -> bpy.types.NodeTree:
    """The group that bends the normals of faces."""
    return group("warp", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    normal = _turned(b, b.input("Normal"), "WORLD", "OBJECT", "Normal in the brick's axes")
    slope = b.vector("ADD", _bowed(b), _sunk(b, normal), "Slope")
    leaning = b.vector("SUBTRACT", normal, slope, "Off the slope")
    bent = _turned(b, leaning, "OBJECT", "WORLD", "Bent")
    deep = b.math("ADD", b.input("Warp"), b.input("Sink"))
    b.output("Normal", b.unless_zero(b.math("MULTIPLY", deep, b.input("Amount")), b.input("Normal"), bent, "Warped"))


def _bowed(b: Builder) -> Result:
    """The slope of the waves."""
    along = tuple(2.0 * pi / wave for wave in _WAVES_MM)
    with b.frame("sin(k x p), its three parts added, slopes by cos(k x p) x k; each face shows three waves of it"):
        phase = b.vector("CROSS_PRODUCT", along, b.input("Own"), "k x p")
        steepness = b.add("ShaderNodeVectorMath", "Steepness", {"Vector": phase}, operation="COSINE")
        slope = b.vector("CROSS_PRODUCT", socket(steepness.outputs, "Vector"), along, "Slope of 1 mm")
    return b.vector("SCALE", slope, _in_mm(b, "Warp", 1.0 / _HIGHEST), "Bowed")


def _sunk(b: Builder, normal: Result) -> Result:
    """The slope of the sinks: under studs and between four of them, where tubes are, on what faces up; on walls, where
    ribs stand behind them."""
    turns = b.vector("SCALE", b.input("Spot"), 2.0 * pi / TRADE.pitch, "A turn a pitch")
    up = _turned(b, (0.0, 0.0, 1.0), "WORLD", "OBJECT", "Up in the brick's axes")
    with b.frame("-cos x cos y, with z upright, is -(cos(x + y) + cos(x - y)) / 2; which axis is z each brick tells"):
        both = b.vector("SUBTRACT", (1.0, 1.0, 1.0), b.vector("MULTIPLY", up, up), "x + y")
        apart = b.vector("CROSS_PRODUCT", (1.0, 1.0, 1.0), up, "x - y")
        first, second = (
            b.vector("SCALE", way, b.math("SINE", b.dot(turns, way), name="Steepness"), "Slope of one")
            for way in (both, apart)
        )
        slope = b.vector("ADD", first, second, "Slope of both")
    faces = b.dot(normal, up, "Faces up")
    way = b.multiply_add(b.math("MULTIPLY", faces, faces), 2.0, -1.0, "1 on what faces up, -1 on walls")
    deep = b.math("MULTIPLY", _in_mm(b, "Sink", 0.5 * pi / TRADE.pitch), b.input("Studded"), "Where studs are known")
    return b.vector("SCALE", slope, b.math("MULTIPLY", deep, way), "Sunk")


def _in_mm(b: Builder, depth: str, times: float) -> Value:
    """So many times a depth, as much of it as the mould has."""
    return b.math("MULTIPLY", b.math("MULTIPLY", b.input(depth), times / UM_PER_MM), b.input("Amount"), f"{depth} here")


def _turned(b: Builder, way: Value, before: str, after: str, name: str) -> Result:
    """A direction in other axes, one long whatever the object's own scale."""
    ends = {"vector_type": "NORMAL", "convert_from": before, "convert_to": after}
    return socket(b.add("ShaderNodeVectorTransform", name, {"Vector": way}, **ends).outputs, "Vector")
