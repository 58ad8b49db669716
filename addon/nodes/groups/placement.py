"""Where hands, the sky and light get to on a brick: what its six sides tell, blended by the way a surface faces."""

from collections.abc import Sequence

import bpy

from ...core.wear.names import SHELTERED, UNLIT, UNREACHED
from ..builder import Builder, Socket, Value, group, socket

_VERSION = 2

_OUTPUTS = (
    Socket("Reach", "1 where fingers get to, 0 where none does", default=1.0),
    Socket("Sky", "1 where all of its sky is seen, 0 under shelter", default=1.0),
    Socket(
        "Light", "1 where a window's light falls in full, and everywhere without one; 0 where none does", default=1.0
    ),
)


def placement() -> bpy.types.NodeTree:
    """The group that reads the raw properties of the object that `core.wear.placement` works out: what is not there is
    open."""
    return group("placement", _VERSION, (), _OUTPUTS, _build)


def _build(b: Builder) -> None:
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
        shares = [
            b.vector("MULTIPLY", b.vector(part, normal, (0.0, 0.0, 0.0)), normal, "Faces")
            for part in ("MINIMUM", "MAXIMUM")
        ]
    b.output("Reach", _open(b, UNREACHED, shares, "Reached"))
    b.output("Sky", _open(b, SHELTERED, shares, "Open"))
    b.output("Light", _open(b, UNLIT, shares, "Lit"))


def _open(b: Builder, names: tuple[str, str], shares: Sequence[Value], name: str) -> Value:
    low, high = (
        b.dot(b.attribute("OBJECT", each, "Vector"), share, "Kept off")
        for each, share in zip(names, shares, strict=True)
    )
    return b.math("SUBTRACT", 1.0, b.math("ADD", low, high), name, clip=True)
