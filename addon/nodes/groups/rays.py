"""Which rays of a render are worth rays of ours."""

import bpy

from ..builder import Builder, socket


def looked_at(b: Builder) -> bpy.types.NodeSocket:
    """1 where a camera, a mirror or a pane shows a place, 0 where it only lights others by the light it scatters.

    A Bevel or an Ambient Occlusion node with a distance of 0 sends no rays.
    """
    scattered = socket(b.add("ShaderNodeLightPath", "Rays").outputs, "Is Diffuse Ray")
    return b.math("SUBTRACT", 1.0, scattered, "Looked at")
