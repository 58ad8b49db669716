"""Light-aged colour: plastic that has swallowed blue and lost dye, the more the more light a place has seen."""

import bpy

from ...core.wear.fade import ABSORBED, CHALK
from ..builder import COLOUR, VECTOR, Builder, Socket, group, socket

_VERSION = 4
_FROM_THE_SKY = 0.15  # how much more a level face sees than an upright one, and that than one that faces down
_DRIFT_MM, _DRIFT = 10.0, 0.3  # shadows came and went: age drifts over a brick by up to this share
# Both: common practice, no published source.

_INPUTS = (
    Socket("Color", "Colour before the light", COLOUR),
    Socket("Place", "Position on the brick in mm", VECTOR),
    Socket("Yellowing", "0 none, 1 all the blue is swallowed"),
    Socket("Bleaching", "0 none, 1 chalk"),
)
_OUTPUTS = (
    Socket("Color", "Colour after the light", COLOUR),
    Socket("Mask", "What light did the most of, yellowing or bleaching: 0 nothing, 1 all that it can"),
)


def fade() -> bpy.types.NodeTree:
    """The group that ages a colour, by the formula of `core.fade.aged`."""
    return group("fade", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    seen = _seen(b)
    yellowing = b.math("MULTIPLY", b.input("Yellowing"), seen, "Yellowing by light")
    bleaching = b.math("MULTIPLY", b.input("Bleaching"), seen, "Bleaching by light")
    b.output("Mask", b.math("MAXIMUM", yellowing, bleaching, "Aged the most"))
    bleached = b.mix(bleaching, b.input("Color"), (*CHALK, 1.0), "Bleached", "Color")
    swallowed = b.vector("SCALE", tuple(-share for share in ABSORBED), yellowing, "Swallowed")
    b.output("Color", b.share_more(bleached, swallowed, "Aged"))


def _seen(b: Builder) -> bpy.types.NodeSocket:
    """The light that a point has seen, smooth over a brick; 1 the most."""
    with b.frame("Age is no coat of paint: it drifts over a brick, and what faces the sky has seen the most light"):
        waves = b.vector("SCALE", b.input("Place"), 1.0 / _DRIFT_MM, "Waves")
        drift = b.add("ShaderNodeVectorMath", "Drift", {"Vector": waves}, operation="COSINE")
        here = b.dot(socket(drift.outputs, "Vector"), (_DRIFT / 3.0,) * 3, "Drifted")
        surface = b.add("ShaderNodeNewGeometry", "Surface")
        upward = b.dot(socket(surface.outputs, "Normal"), (0.0, 0.0, _FROM_THE_SKY), "Sky")
        open_sky = b.math("ADD", upward, 1.0 - _FROM_THE_SKY, "Open to the sky")
        return b.math("MULTIPLY", b.math("ADD", here, 1.0 - _DRIFT, "Here"), open_sky, "Light seen")
