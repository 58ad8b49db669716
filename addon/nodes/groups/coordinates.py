"""Where a point lies on its own brick, in millimetres, shifted and turned so that no two bricks show the same marks."""

import bpy

from ..builder import VECTOR, Builder, Socket, group, socket

_VERSION = 1
_REACH_MM = 1000.0  # offsets reach far beyond any repeat, yet stay exact to 0.1 µm in single precision
_TURN = 6.283185307179586

_INPUTS = (Socket("Salt", "Makes the layers of one brick draw different offsets and turns", high=1000.0),)
_OUTPUTS = (
    Socket("Vector", "Position in mm for an image in box projection", VECTOR),
    Socket("Build", "1 on a brick of a build, 0 on everything else"),
    Socket("Luck", "Random number of this brick and layer, 0 to 1"),
)


def coordinates() -> bpy.types.NodeTree:
    """The group that gives brick space. Reads the object's raw properties `playworn_mm` and `playworn_seed`."""
    return group("coordinates", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    mm = b.attribute("OBJECT", "playworn_mm")
    where = b.add("ShaderNodeTexCoord", "Brick space")
    place = b.vector("SCALE", socket(where.outputs, "Object"), mm, "In mm")

    with b.frame("Drawn from the brick's own seed, not from its name: renaming changes nothing"):
        salted = b.math("ADD", b.attribute("OBJECT", "playworn_seed"), b.input("Salt"), "Seed and layer")
        noise = b.add("ShaderNodeTexWhiteNoise", "Draw", {"W": salted}, noise_dimensions="1D")
        luck = socket(noise.outputs, "Value")
        offset = b.vector("SCALE", socket(noise.outputs, "Color"), _REACH_MM, "Offset mm")

    with b.frame("cos p + sin (1,1,1) x p turns all three planes of a box projection by one angle, with no stretch"):
        angle = b.math("MULTIPLY", luck, _TURN, "Turn")
        along = b.vector("SCALE", place, b.math("COSINE", angle), "cos p")
        across = b.vector("CROSS_PRODUCT", (1.0, 1.0, 1.0), place, "(1,1,1) x p")
        turned = b.vector("ADD", along, b.vector("SCALE", across, b.math("SINE", angle), "sin"), "Turned")

    b.output("Vector", b.vector("ADD", turned, offset))
    b.output("Build", b.math("GREATER_THAN", mm, 0.0))
    b.output("Luck", luck)
