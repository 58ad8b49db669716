"""Edges rubbed by hands and by other bricks: whitened plastic, frosted glass, polished rubber."""

import bpy

from ..builder import COLOUR, VECTOR, Builder, Socket, group
from .hands import from_many_hands
from .patches import patches

_VERSION = 3
_PALE = (0.86, 0.85, 0.82, 1.0)  # linear; torn plastic scatters all colours, common practice, no published source
_ANYWHERE = 0.5  # share of the rub that lies also where no finger left a mark
_KNOCKS_MM = 2.5  # how far apart knocks lie on an edge, common practice, no published source
_NOISE, _WORN = (0.42, 0.62), (0.3, 1.7)  # between two knocks and in the middle of one; shares of the rub

_INPUTS = (
    Socket("Place", "Position on the brick in mm", VECTOR),
    Socket("Luck", "Random number of the brick, 0 to 1", default=0.5),
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
    Socket("Rubbed", "0 untouched, 1 fully rubbed"),
)


def rub() -> bpy.types.NodeTree:
    """The group that rubs edges."""
    return group("rub", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    amount = from_many_hands(b)
    with b.frame("An edge is worn where it was held and where it knocked against another, not along all of its length"):
        held = b.math("ADD", b.math("MULTIPLY", b.input("Mask"), 1.0 - _ANYWHERE), _ANYWHERE, "Held here")
        knocked = patches(b, "Knocks", b.input("Place"), _KNOCKS_MM, _NOISE, _WORN)
        worn = b.math("MULTIPLY", b.math("MULTIPLY", b.input("Edge"), held), knocked, "Worn")
    rubbed = b.math("MULTIPLY", worn, amount, "Rubbed", clip=True)
    white = b.math("MULTIPLY", rubbed, b.input("Whitening"))
    b.output("Color", b.mix(white, b.input("Color"), _PALE, "Whitened", "Color"))
    b.output("Roughness", b.mix(rubbed, b.input("Roughness"), b.input("Finish"), "Polished or matt"))
    b.output("Rubbed", rubbed)
