"""Where a mesh itself is rounded: edges to rub, without asking the renderer for any."""

import bpy

from ..builder import Builder, Socket, group

_VERSION = 1

_OUTPUTS = (
    Socket("Edge", "0 on a face, most in the middle of a rounding of the mesh"),
    Socket("Sharp", "1 on a brick whose mesh still has sharp edges, 0 on one with rounded ones"),
)


def mesh_edges() -> bpy.types.NodeTree:
    """The group that reads the roundings of a twin: an attribute of the mesh, and a raw property of the brick."""
    return group("mesh edges", _VERSION, (), _OUTPUTS, _build)


def _build(b: Builder) -> None:
    b.output("Edge", b.attribute("GEOMETRY", "playworn_edge"))
    b.output("Sharp", b.math("SUBTRACT", 1.0, b.attribute("OBJECT", "playworn_rounded"), "Sharp"))
