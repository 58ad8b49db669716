"""Dust from a texture: matt, grey, on what faces the sky, thick at the feet of studs and walls, thin where touched."""

from functools import partial

import bpy

from ...core.sizes import TRADE
from ...core.wear.amounts import FLATTEST, STEEPEST
from ...core.wear.texture import Texture
from ..builder import COLOUR, VECTOR, Builder, Result, Socket, socket
from .excess import beyond
from .picture import layer, marks, there
from .rays import looked_at

_VERSION = 10
# All of these: common practice, no published source.
_COLOUR = (0.30, 0.285, 0.26)  # linear; house dust: paler than dark plastic, greyer and darker than pale plastic
_FILM = 0.2  # share of the cover between the grains
_HAZE = 1.8  # so much more than its colour shows dulls what lies under it: grains apart scatter a whole highlight
_TWICE = 0.3  # so much more than twice an amount of 1 covers twice as much: grains are full before
_FOOT_MM = 1.3  # how far from a stud's foot dust lies thicker
_HEAP, _OPEN = 2.6, 0.85  # of the cover: in the corner at its foot, and on the flat between studs
_TOUCHED = 0.75  # share that hands take off a stud's top where they get to it
_CORNER_MM = 3.0  # how far from a wall it lies thicker
_HEAPED = 2.4  # more of the cover than on open ground, in the innermost corner


_INPUTS = (
    Socket("Place", "Position on the brick in mm", VECTOR),
    Socket("Spot", "Position in mm in the build, along the brick's own axes: studs lie at whole pitches", VECTOR),
    Socket("Studded", "1 on a brick with a stud at every whole pitch, else 0"),
    Socket("Reach", "1 where fingers get to, 0 where none does", default=1.0),
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
    Socket("Mask", "How much of the surface dust covers: 0 none, 1 all"),
)


def dust(texture: Texture, corners: bool) -> bpy.types.NodeTree:
    """The group that lays dust of this picture on a surface; with `corners`, thicker there, by a ray a look."""
    kind, inputs = ("dust", _INPUTS + _OF_CORNERS) if corners else ("even dust", _INPUTS)
    return layer(kind, _VERSION, inputs, _OUTPUTS, partial(_build, corners=corners), texture)


def _build(b: Builder, image: bpy.types.Image, corners: bool) -> None:
    grain = marks(b, image, b.input("Place"), b.input("Size"))

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

    bed = _bed(b)
    if corners:
        bed = b.multiply_add(_corner(b, reached), _HEAPED, bed, "Heaped")

    lies = b.multiply_add(grain, 1.0 - _FILM, b.math("MULTIPLY", there(b), _FILM), "Film and grains")
    amount = beyond(b, b.input("Amount"), _TWICE, "Dialled")
    thick = b.math("MULTIPLY", b.math("MULTIPLY", lies, amount), bed, "Thick")
    cover = b.math("MULTIPLY", thick, reached, "Cover")
    b.output("Mask", b.math("MINIMUM", cover, 1.0, "Covered"))
    b.output("Color", b.mix(cover, b.input("Color"), (*_COLOUR, 1.0), "Grey", "Color"))
    hazed = b.math("MULTIPLY", cover, _HAZE, "Hazed")
    b.output("Roughness", b.mix(hazed, b.input("Roughness"), 1.0, "Matt"))


def _bed(b: Builder) -> Result:
    """How thick dust lies around studs, where no hand and no cloth gets, on their tops, and elsewhere."""
    pitch, radius = TRADE.pitch, 0.5 * TRADE.stud_diameter
    with b.frame("How far from the nearest stud's axis: across the upright one, counted in pitches"):
        wrapped = {"Vector": b.input("Spot"), "Vector_001": (0.5 * pitch,) * 3, "Vector_002": (-0.5 * pitch,) * 3}
        nearest = b.add("ShaderNodeVectorMath", "From the nearest", wrapped, operation="WRAP")
        up = b.add(
            "ShaderNodeVectorTransform",
            "Up in the brick's axes",
            {"Vector": (0.0, 0.0, 1.0)},
            vector_type="NORMAL",
            convert_from="WORLD",
            convert_to="OBJECT",
        )
        across = b.vector("CROSS_PRODUCT", socket(nearest.outputs, "Vector"), socket(up.outputs, "Vector"), "Across")
        away = b.length(across, "Away from its axis")
    with b.frame("Thickest at its foot; thin on its top, which hands touch"):
        ends = {"From Min": radius, "From Max": radius + _FOOT_MM, "To Min": _HEAP, "To Max": _OPEN}
        foot = b.add("ShaderNodeMapRange", "Foot", {"Value": away, **ends}, interpolation_type="SMOOTHSTEP")
        top = b.math("LESS_THAN", away, radius + 0.02, "On its top")
        touched = b.multiply_add(b.input("Reach"), -_TOUCHED, 1.0, "Touched")
        around = b.mix(top, socket(foot.outputs, "Result"), touched, "Around studs")
    return b.mix(b.input("Studded"), 1.0, around, "Bed")


def _corner(b: Builder, reached: bpy.types.NodeSocket) -> bpy.types.NodeSocket:
    """1 in the innermost corner, 0 on open ground and, since no ray is sent there, where no dust holds."""
    held = b.math("MULTIPLY", b.math("GREATER_THAN", reached, 0.0), looked_at(b), "Worth a ray")
    distance = b.math("MULTIPLY", b.math("MULTIPLY", b.input("Scale"), _CORNER_MM), held, "Corner in world units")
    open_ground = b.add("ShaderNodeAmbientOcclusion", "Open ground", {"Distance": distance}, samples=1)
    return b.math("SUBTRACT", 1.0, socket(open_ground.outputs, "AO"), "Corner")
