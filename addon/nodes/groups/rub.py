"""Edges rubbed by hands and by other bricks: whitened plastic, frosted glass, polished rubber."""

import bpy

from ..builder import COLOUR, Builder, Socket, group, socket

_VERSION = 5
_PALE = (0.86, 0.85, 0.82, 1.0)  # linear; torn plastic scatters all colours, common practice, no published source
_ANYWHERE = 0.5  # share of the rub that lies also where no finger left a mark
_PATCH, _WORN = (0.42, 0.62), (0.3, 1.7)  # between two knocks and in the middle of one; shares of the rub
TWICE = 0.5  # so much more than twice an amount of 1 rubs twice as much: knocks are rubbed through before

_INPUTS = (
    Socket("Patch", "Smooth noise over the brick, 0 to 1", default=0.5),
    Socket("Color", "Colour of the surface before handling", COLOUR),
    Socket("Roughness", "Roughness of the surface before handling", default=0.5),
    Socket("Edge", "0 on a face, 1 on an edge"),
    Socket("Mask", "Where hands have been: 0 nowhere, 1 most"),
    Socket("Amount", "0 none, 1 all edges rubbed through"),
    Socket("Whitening", "Share of the way to white that a fully rubbed edge goes"),
    Socket("Finish", "Roughness of a fully rubbed edge", default=0.45),
)
_OUTPUTS = (
    Socket("Color", "Colour with rubbed edges", COLOUR),
    Socket("Roughness", "Roughness with rubbed edges"),
    Socket("Mask", "0 untouched, 1 fully rubbed"),
)


def rub() -> bpy.types.NodeTree:
    """The group that rubs edges."""
    return group("rub", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    with b.frame("An edge is worn where it was held and where it knocked against another, not along all of its length"):
        held = b.multiply_add(b.input("Mask"), 1.0 - _ANYWHERE, _ANYWHERE, "Held here")
        ends = {"From Min": _PATCH[0], "From Max": _PATCH[1], "To Min": _WORN[0], "To Max": _WORN[1]}
        knocks = {"Value": b.input("Patch"), **ends}
        knocked = b.add("ShaderNodeMapRange", "Knocks", knocks, interpolation_type="SMOOTHSTEP").outputs
        worn = b.math("MULTIPLY", b.math("MULTIPLY", b.input("Edge"), held), socket(knocked, "Result"), "Worn")
    rubbed = b.math("MULTIPLY", worn, b.input("Amount"), "Rubbed", clip=True)
    white = b.math("MULTIPLY", rubbed, b.input("Whitening"))
    b.output("Color", b.mix(white, b.input("Color"), _PALE, "Whitened", "Color"))
    b.output("Roughness", b.mix(rubbed, b.input("Roughness"), b.input("Finish"), "Polished or matt"))
    b.output("Mask", rubbed)
