"""Light-aged colour: plastic that has swallowed blue and lost dye."""

import bpy

from ...core.fade import ABSORBED, CHALK
from ..builder import COLOUR, Builder, Socket, group

_VERSION = 1

_INPUTS = (
    Socket("Color", "Colour before the light", COLOUR),
    Socket("Yellowing", "0 none, 1 all the blue is swallowed"),
    Socket("Bleaching", "0 none, 1 chalk"),
)
_OUTPUTS = (Socket("Color", "Colour after the light", COLOUR),)


def fade() -> bpy.types.NodeTree:
    """The group that ages a colour, by the formula of `core.fade.aged`."""
    return group("fade", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    toward = b.vector("SUBTRACT", CHALK, b.input("Color"), "Toward chalk")
    bleached = b.vector("ADD", b.input("Color"), b.vector("SCALE", toward, b.input("Bleaching")), "Bleached")
    swallowed = b.vector("SCALE", ABSORBED, b.input("Yellowing"), "Swallowed")
    b.output("Color", b.vector("MULTIPLY", bleached, b.vector("SUBTRACT", (1.0, 1.0, 1.0), swallowed), "Aged"))
