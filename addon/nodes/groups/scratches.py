"""Hairline scratches from a texture: grooves of a real depth, greyed, their floor torn on gloss, burnished on matt."""

from functools import partial

import bpy

from ...core.units import UM_PER_MM
from ...core.wear.texture import Texture
from ..builder import COLOUR, VECTOR, Builder, Socket, socket
from .gloss import marked
from .picture import dialled, layer, marks

_VERSION = 12
_TORN = 0.5  # roughness of a groove floor: duller than any moulded gloss
_BURNISHED = (0.15, 0.3)  # of one in a silken and in a raw surface, pressed smooth; common practice, no source
_FLOOR_SHARE = 0.8  # of the way there at the deepest point of a full scratch
_PALER = 0.55  # share of what an edge rubbed through pales by; common practice, no published source
_TURNED = (0.47, 0.46, 0.44, 1.0)  # linear; dark plastic pales where torn, pale plastic darkens by the dirt it holds

_INPUTS = (
    Socket("Place", "Position on the brick in mm", VECTOR),
    Socket("Roughness", "Roughness of the surface under the scratches", default=0.5),
    Socket("Color", "Colour of the surface under the scratches", COLOUR),
    Socket("Whitening", "Share of the way to white that a fully rubbed edge goes"),
    Socket("Amount", "0 none, 1 as deep as they get, and as dull or bright; beyond it more", high=32.0),
    Socket("Size", "Real width in mm of one repeat of the texture", default=40.0, low=0.1, high=10000.0),
)
_OF_GROOVES = (
    Socket("Normal", "Normal of the surface under the scratches", VECTOR),
    Socket("Depth", "Groove depth in µm where the texture is strongest", default=3.0, high=1000.0),
    Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),
)
_OUTPUTS = (
    Socket("Roughness", "Roughness with the scratches"),
    Socket("Color", "Colour with the scratches", COLOUR),
    Socket("Mask", "How much of a groove is here: 0 none, 1 the floor of a full one"),
)
_GROOVED = (Socket("Normal", "Normal with the scratches", VECTOR),)


def scratches(texture: Texture, grooves: bool) -> bpy.types.NodeTree:
    """The group that scratches a surface with this picture; without `grooves` its gloss changes only.

    A groove looks the picture up three times more.
    """
    build = partial(_build, grooves=grooves)
    if not grooves:
        return layer("dull scratches", _VERSION, _INPUTS, _OUTPUTS, build, texture)
    return layer("scratches", _VERSION, _INPUTS + _OF_GROOVES, _OUTPUTS + _GROOVED, build, texture)


def _build(b: Builder, image: bpy.types.Image, grooves: bool) -> None:
    mark = marks(b, image, b.input("Place"), b.input("Size"))
    amount = b.input("Amount")
    if grooves:
        b.output("Normal", _grooved(b, mark, amount))
    floor = marked(b, b.input("Roughness"), _TORN, _BURNISHED, "Torn or burnished")
    torn = b.math("MULTIPLY", mark, dialled(b, amount), "Torn", clip=True)
    b.output("Mask", torn)
    pale = b.math("MULTIPLY", b.math("MULTIPLY", torn, b.input("Whitening")), _PALER)
    b.output("Color", b.mix(pale, b.input("Color"), _TURNED, "Paler or darker", "Color"))
    changed = b.math("MULTIPLY", torn, _FLOOR_SHARE)
    b.output("Roughness", b.mix(changed, b.input("Roughness"), floor, "Groove floor"))


def _grooved(b: Builder, mark: bpy.types.NodeSocket, amount: bpy.types.NodeSocket) -> bpy.types.NodeSocket:
    with b.frame("Distance of Bump is in world units, so the groove is as deep as the real one"):
        depth = b.math("MULTIPLY", b.math("MULTIPLY", b.input("Depth"), 1.0 / UM_PER_MM), b.input("Scale"))
        bump = b.add(
            "ShaderNodeBump",
            "Groove",
            {
                "Strength": 1.0,
                "Distance": b.math("MULTIPLY", depth, amount, "Depth in world units"),
                "Height": mark,
                "Normal": b.input("Normal"),
            },
            invert=True,
        )
    return b.unless_zero(amount, b.input("Normal"), socket(bump.outputs, "Normal"), "Grooved")
