"""Where hands and the sky get to on a brick: what its six sides tell, blended by the way a surface faces."""

from collections.abc import Sequence

import bpy

from ...core.wear.names import SHELTERED, UNREACHED
from ..builder import Builder, Socket, Value, group, socket

_VERSION = 3

_OUTPUTS = (
    Socket("Reach", "1 where fingers get to, 0 where none does", default=1.0),
    Socket("Sky", "1 where all of its sky is seen, 0 under shelter", default=1.0),
)


def placement() -> bpy.types.NodeTree:
    """The group that reads the raw properties of the object that `core.wear.placement` works out: what is not there is
    open."""
    return group("placement", _VERSION, (), _OUTPUTS, _build)


def _build(b: Builder) -> None:
    shares = facing(b)
    b.output("Reach", open_to(b, UNREACHED, shares, "Reached"))
    b.output("Sky", open_to(b, SHELTERED, shares, "Open"))


def facing(b: Builder) -> list[Value]:
    """How much a surface faces a brick's sides at -x, -y and -z, and those at x, y and z."""
    with b.frame("The squares of a normal's parts add up to 1: shares of the sides that it faces, in the brick's axes"):
        surface = socket(b.add("ShaderNodeNewGeometry", "Surface").outputs, "Normal")
        facing = b.add(
            "ShaderNodeVectorTransform",
            "In the brick's axes",
            {"Vector": surface},
            vector_type="NORMAL",
            convert_from="WORLD",
            convert_to="OBJECT",
        )
        normal = socket(facing.outputs, "Vector")
        return [
            b.vector("MULTIPLY", b.vector(part, normal, (0.0, 0.0, 0.0)), normal, "Faces")
            for part in ("MINIMUM", "MAXIMUM")
        ]


def open_to(b: Builder, names: tuple[str, str], shares: Sequence[Value], name: str) -> Value:
    """1 less what is kept off a surface, by two raw properties with three sides each."""
    low, high = (
        b.dot(b.attribute("OBJECT", each, "Vector"), share, "Kept off")
        for each, share in zip(names, shares, strict=True)
    )
    return b.math("SUBTRACT", 1.0, b.math("ADD", low, high), name, clip=True)
