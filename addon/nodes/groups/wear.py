"""The whole wear of a surface: what stands between a material's roughness and normal and its shader."""

import bpy

from ...core.texture import WearImages
from ..builder import VECTOR, Builder, Socket, group, group_socket, socket
from .coordinates import coordinates
from .rounding import rounding
from .scratches import scratches
from .smudges import smudges

_VERSION = 1
KIND = "wear"

_INPUTS = (
    Socket("Roughness", "Roughness of the clean material", default=0.5),
    Socket("Normal", "Normal of the clean material; left unlinked, the surface's own", VECTOR),
    Socket("Rounding", "Moulded edge radius in mm", high=2.0),
    Socket("Scratch amount", "0 none to 1 full"),
    Socket("Scratch size", "Real width in mm of one repeat of the texture", default=40.0, low=0.1, high=10000.0),
    Socket("Scratch depth", "Groove depth in µm where the texture is strongest", default=3.0, high=1000.0),
    Socket("Smudge amount", "0 none to 1 full"),
    Socket("Smudge size", "Real width in mm of one repeat of the texture", default=60.0, low=0.1, high=10000.0),
    Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),
)
_OUTPUTS = (
    Socket("Roughness", "Roughness of the worn material"),
    Socket("Normal", "Normal of the worn material", VECTOR),
)


def wear(images: WearImages) -> bpy.types.NodeTree:
    """The group that wears a material with these pictures. It comes out clean, exactly, wherever the object is not a
    brick of a build, the scene has no dial `playworn_wear` or the dial is 0, or all amounts are 0."""
    layers = (
        coordinates(),
        rounding(),
        scratches(images.scratches, images.scratch_levels),
        smudges(images.smudges, images.smudge_levels),
    )
    return group(KIND, _VERSION, _INPUTS, _OUTPUTS, lambda b: _build(b, *layers), layers)


def _build(b: Builder, space, round_edges, scratch, smudge) -> None:
    with b.frame("One dial for the scene; nothing outside a build"):
        dial = b.attribute("VIEW_LAYER", "playworn_wear")
        build = group_socket(b.subgroup(space, {}), "OUTPUT", "Build")
        strength = b.math("MULTIPLY", dial, build, "Dial")
        part = b.math("MINIMUM", strength, 1.0, "Radius never grows past the mould")
        radius = b.math("MULTIPLY", b.input("Rounding"), part, "Radius")
        scratched = b.math("MULTIPLY", b.input("Scratch amount"), strength, "Scratches", clip=True)
        smudged = b.math("MULTIPLY", b.input("Smudge amount"), strength, "Smudges", clip=True)

    with b.frame("An unlinked normal arrives as zero: take the surface's own"):
        given = b.math("GREATER_THAN", b.length(b.input("Normal"), "Length"), 0.0, "Given")
        own = socket(b.add("ShaderNodeNewGeometry", "Surface").outputs, "Normal")
        normal = b.mix(given, own, b.input("Normal"), "Clean normal", "Vector")

    rounded = b.subgroup(round_edges, {"Normal": normal, "Radius": radius, "Scale": b.input("Scale")})
    scored = b.subgroup(
        scratch,
        {
            "Roughness": b.input("Roughness"),
            "Normal": group_socket(rounded, "OUTPUT", "Normal"),
            "Amount": scratched,
            "Size": b.input("Scratch size"),
            "Depth": b.input("Scratch depth"),
            "Scale": b.input("Scale"),
        },
    )
    handled = b.subgroup(
        smudge,
        {
            "Roughness": group_socket(scored, "OUTPUT", "Roughness"),
            "Amount": smudged,
            "Size": b.input("Smudge size"),
        },
    )
    b.output("Roughness", group_socket(handled, "OUTPUT", "Roughness"))

    with b.frame("Normals pass through rounding and bump with a last-digit error: when clean, take the one that came"):
        touched = b.math("GREATER_THAN", b.math("ADD", radius, scratched), 0.0, "Touched")
        b.output("Normal", b.mix(touched, normal, group_socket(scored, "OUTPUT", "Normal"), "Worn normal", "Vector"))
