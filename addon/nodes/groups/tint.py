"""Colour lots: each brick a little off the material's colour, as its batch of granulate was."""

import bpy

from ...core.wear.names import LOT
from ..builder import COLOUR, Builder, Socket, group

_VERSION = 3

_INPUTS = (
    Socket("Color", "Colour of the clean material", COLOUR),
    Socket("Spread", "Share by which the widest lot differs in a channel; 0 none"),
)
_OUTPUTS = (
    Socket("Color", "Colour of the brick's lot", COLOUR),
    Socket("Mask", "How far the lot is off the material: shares of its red, green and blue as one length"),
)


def tint() -> bpy.types.NodeTree:
    """The group that tints a colour. Reads the object's raw property `playworn_lot`: red, green and blue, -1 to 1."""
    return group("tint", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    deviation = b.vector("SCALE", b.attribute("OBJECT", LOT, "Vector"), b.input("Spread"), "Deviation")
    b.output("Mask", b.length(deviation, "Off the material"))
    b.output("Color", b.share_more(b.input("Color"), deviation, "Tinted"))
