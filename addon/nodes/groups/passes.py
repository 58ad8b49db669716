"""What the wear hands out beside the surface: each layer's mask and the fit's motion, as passes of a render.

A render leaves out the passes that no view layer asks for by their names.
"""

import bpy

from ...core.wear import names
from ..builder import Builder, Socket, group

_VERSION = 1

SHARE = "Share"
_INPUTS = (
    *(
        Socket(name, f"Goes to the pass {name}", low=-1000.0, high=1000.0)
        for name in (*names.PASS.values(), names.ROUNDED)
    ),
    Socket(SHARE, "Of the passes; a render adds up what all shaders of a material hand out", default=1.0),
)


def passes() -> bpy.types.NodeTree:
    """The group that hands out what it is given, each under its own name. Reads the raw property `playworn_motion` of
    the object."""
    return group("passes", _VERSION, _INPUTS, (), _build)


def _build(b: Builder) -> None:
    given = {name: b.input(name) for name in (*names.PASS.values(), names.ROUNDED)}
    for name, value in {**given, names.MOTION: b.attribute("OBJECT", names.MOTION)}.items():
        shared = b.math("MULTIPLY", value, b.input(SHARE), f"Of {name}")
        b.add("ShaderNodeOutputAOV", name, {"Value": shared}, aov_name=name)
