"""How much of a window's light falls on a brick: a group of its own, which asks for nothing where there is none."""

import bpy

from ...core.wear.names import UNLIT
from ..builder import Builder, Socket, group
from .placement import facing, open_to

KIND = "light"
_VERSION = 1

_OUTPUTS = (
    Socket(
        "Light", "1 where a window's light falls in full, and everywhere without one; 0 where none does", default=1.0
    ),
)


def light() -> bpy.types.NodeTree:
    """The group that all wear asks; it is filled anew when a build gets a window or loses it."""
    return group(KIND, _VERSION, (), _OUTPUTS, lambda b: _build(b, False))


def fill(tree: bpy.types.NodeTree, falls: bool) -> None:
    """Lets the group read what of a window's light each brick gets, or tell that light came from everywhere."""
    tree.nodes.clear()
    b = Builder(tree)
    _build(b, falls)
    b.arrange()


def falls(tree: bpy.types.NodeTree) -> bool:
    """Whether the group reads it."""
    return any(node.bl_idname == "ShaderNodeAttribute" for node in tree.nodes)


def _build(b: Builder, falls: bool) -> None:
    b.output("Light", open_to(b, UNLIT, facing(b), "Lit") if falls else 1.0)
