"""Dust from a texture: pale, matt, on what faces the sky."""

from functools import partial

import bpy

from ...core.wear.amounts import FLATTEST, STEEPEST
from ...core.wear.texture import Texture
from ..builder import COLOUR, VECTOR, Builder, Socket, socket
from .excess import beyond
from .patches import patches
from .picture import layer, marks, there
from .rays import looked_at

_VERSION = 8
_COLOUR = (0.42, 0.39, 0.34)  # linear; house dust, common practice, no published source
_FILM = 0.35  # share of the cover between the specks
_PATCH, _COVER = (0.2, 0.8), (0.5 * _FILM, 1.5 * _FILM)  # between drifts and in the middle of one
_TWICE = 0.16  # so much more than twice an amount of 1 covers twice as much: drifts and specks are full before
_CORNER_MM = 4.0  # how far from a wall dust lies thicker
_HEAPED = 1.6 * _FILM  # more than on open ground, in the innermost corner


_INPUTS = (
    Socket("Place", "Position on the brick in mm", VECTOR),
    Socket("Patch", "Smooth noise over the brick, 0 to 1", default=0.5),
    Socket("Color", "Colour of the surface under the dust", COLOUR),
    Socket("Roughness", "Roughness of the surface under the dust", default=0.5),
    Socket("Amount", "0 clean, 1 the thickest cover, beyond it less is bare", high=32.0),
    Socket("Size", "Real width in mm of one repeat of the texture", default=30.0, low=0.1, high=10000.0),
    Socket("Mask", "Where dust may lie: 0 nowhere, 1 free", default=1.0),
)
_OF_CORNERS = (Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),)
_OUTPUTS = (
    Socket("Color", "Colour with the dust", COLOUR),
    Socket("Roughness", "Roughness with the dust"),
)


def dust(texture: Texture, corners: bool) -> bpy.types.NodeTree:
    """The group that lays dust of this picture on a surface; with `corners`, thicker there, by a ray a look."""
    kind, inputs = ("dust", _INPUTS + _OF_CORNERS) if corners else ("even dust", _INPUTS)
    return layer(kind, _VERSION, inputs, _OUTPUTS, partial(_build, corners=corners), texture)


def _build(b: Builder, image: bpy.types.Image, corners: bool) -> None:
    speck = marks(b, image, b.input("Place"), b.input("Size"))

    with b.frame("It falls from above and slides off what is steep"):
        surface = b.add("ShaderNodeNewGeometry", "Surface")
        parts = b.add("ShaderNodeSeparateXYZ", "World up", {"Vector": socket(surface.outputs, "Normal")})
        sky = b.add(
            "ShaderNodeMapRange",
            "Open to the sky",
            {"Value": socket(parts.outputs, "Z"), "From Min": STEEPEST, "From Max": FLATTEST},
            interpolation_type="SMOOTHSTEP",
        )
        reached = b.math("MULTIPLY", socket(sky.outputs, "Result"), b.input("Mask"))

    with b.frame("Draughts and cloths leave it in drifts, and in corners they do not reach"):
        drift = patches(b, "Drifts", b.input("Patch"), _PATCH, _COVER)
        if corners:
            drift = b.multiply_add(_corner(b, reached), _HEAPED, drift, "Heaped")

    film = b.math("MULTIPLY", drift, there(b), "Film")
    thick = b.multiply_add(speck, 1.0 - _FILM, film, "Film and specks")
    amount = beyond(b, b.input("Amount"), _TWICE, "Dialled")
    cover = b.math("MULTIPLY", b.math("MULTIPLY", thick, amount), reached, "Cover")
    b.output("Color", b.mix(cover, b.input("Color"), (*_COLOUR, 1.0), "Pale", "Color"))
    b.output("Roughness", b.mix(cover, b.input("Roughness"), 1.0, "Matt"))


def _corner(b: Builder, reached: bpy.types.NodeSocket) -> bpy.types.NodeSocket:
    """1 in the innermost corner, 0 on open ground and, since no ray is sent there, where no dust holds."""
    held = b.math("MULTIPLY", b.math("GREATER_THAN", reached, 0.0), looked_at(b), "Worth a ray")
    distance = b.math("MULTIPLY", b.math("MULTIPLY", b.input("Scale"), _CORNER_MM), held, "Corner in world units")
    open_ground = b.add("ShaderNodeAmbientOcclusion", "Open ground", {"Distance": distance}, samples=1)
    return b.math("SUBTRACT", 1.0, socket(open_ground.outputs, "AO"), "Corner")
