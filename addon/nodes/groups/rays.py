"""Which rays of a render are worth rays of ours."""

from ..builder import Builder, socket


def looked_at(b: Builder):
    """1 where a camera, a mirror or a pane shows a place, 0 where it lights others or is a blur in their gloss.

    A Bevel or an Ambient Occlusion node with a distance of 0 sends no rays.
    """
    rays = b.add("ShaderNodeLightPath", "Rays").outputs
    shown = b.math("MAXIMUM", socket(rays, "Is Camera Ray"), socket(rays, "Is Transmission Ray"))
    return b.math("MAXIMUM", shown, socket(rays, "Is Singular Ray"), "Looked at")
