"""Light-aged colour: plastic that has swallowed blue and lost dye."""

import bpy

from ...core.fade import ABSORBED, CHALK
from ..builder import COLOUR, Builder, Socket, group

_VERSION = 2

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
    bleached = b.mix(b.input("Bleaching"), b.input("Color"), (*CHALK, 1.0), "Bleached", "Color")
    swallowed = b.vector("SCALE", [-share for share in ABSORBED], b.input("Yellowing"), "Swallowed")
    b.output("Color", b.share_more(bleached, swallowed, "Aged"))
