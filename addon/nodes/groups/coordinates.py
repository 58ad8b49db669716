"""Where a point lies on its own brick, in millimetres, shifted and turned so that no two bricks show the same marks."""

import bpy

from ...core.wear.layers import SHARES
from ...core.wear.names import OFFSET, OWN_MORE, SHARES_OF, SPOT, TURN
from ..builder import VECTOR, Builder, Socket, group, socket

_VERSION = 9
_SHARES = tuple(f"Share of {layer}" for layer in SHARES)
_PATCHES_MM = 4.0  # from one knock on an edge to the next; common practice, no published source

_OUTPUTS = (
    Socket("Place", "Position in mm for an image in box projection", VECTOR),
    Socket("Spot", "Position in mm in the build, along the brick's own axes: it runs on to the next brick", VECTOR),
    Socket("Own", "Position in mm along the brick's own axes, from another place for each brick", VECTOR),
    Socket("Studded", "1 on a brick with a stud at every whole number of pitches of its spot, else 0"),
    Socket("Build", "1 on a brick of a build, 0 on everything else"),
    Socket("Use", "How much of what use brings this brick has: 1 as the build, 0 outside a build", high=2.0),
    *(Socket(name, "This brick's share of the layer's amount; 0 outside a build", high=2.0) for name in _SHARES),
    Socket("Patch", "Smooth noise over the brick, 0 to 1, mostly near the middle"),
)


def coordinates() -> bpy.types.NodeTree:
    """The group that gives brick space. Reads the raw properties of the object that `core.marking` works out.

    What of it changes with the place stays short: a Bump that looks at a picture here has all of it worked out anew
    at three points. Each property asked for is a search in the renderer, and as dear as many steps of maths.
    """
    return group("coordinates", _VERSION, (), _OUTPUTS, _build)


def _build(b: Builder) -> None:
    where = socket(b.add("ShaderNodeTexCoord", "Brick space").outputs, "Object")
    with b.frame("cos p + sin (1,1,1) x p turns all three planes of a box projection by one angle, with no stretch"):
        sine, cosine, unit = _parts(b, TURN)
        along = b.vector("SCALE", where, cosine, "cos p")
        across = b.vector("CROSS_PRODUCT", sine, where, "sin (1,1,1) x p")  # a number is as long along each axis
        turned = b.vector("ADD", along, across, "Turned")
    offset = b.attribute("OBJECT", OFFSET, "Vector")
    place = b.vector("ADD", turned, offset, "Shifted")
    b.output("Place", place)
    with b.frame("Where the brick was when it was worn first: what hands left then crosses its seams"):
        spot = b.attribute("OBJECT", SPOT, "Vector")
        in_mm = b.vector("SCALE", where, b.math("ABSOLUTE", unit), "In mm")
        b.output("Spot", b.vector("ADD", in_mm, spot, "In the build"))
    b.output("Own", b.vector("ADD", in_mm, offset, "On this brick"))
    b.output("Studded", b.math("LESS_THAN", unit, 0.0, "Studded"))
    noise = {"Vector": place, "Scale": 1.0 / _PATCHES_MM, "Detail": 0.0}
    b.output("Patch", socket(b.add("ShaderNodeTexNoise", "Patches", noise).outputs, "Fac"))

    more = b.math("MAXIMUM", b.attribute("OBJECT", OWN_MORE), -1.0, "None at the least")
    own = b.math("ADD", more, 1.0, "This brick's own amount")
    parts = [part for name in SHARES_OF for part in _parts(b, name)]
    for layer, part in zip(SHARES, parts, strict=False):  # what is over is 1
        b.output(f"Share of {layer}", part)
    there = b.math("GREATER_THAN", parts[2], 0.0)
    b.output("Build", there)
    b.output("Use", b.math("MULTIPLY", there, own, "Use"))


def _parts(b: Builder, name: str) -> list[bpy.types.NodeSocket]:
    """The three numbers of a vector on the object."""
    vector = b.add("ShaderNodeSeparateXYZ", "Its parts", {"Vector": b.attribute("OBJECT", name, "Vector")})
    return [socket(vector.outputs, part) for part in "XYZ"]
