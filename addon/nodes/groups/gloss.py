"""What a mark does to gloss, told from the gloss that it lies on: it dulls what shines and polishes what is matt."""

import bpy

from ..builder import Builder

_TURN = 0.33  # roughness from which a mark shines more than what it lies on; common practice, no published source


def marked(
    b: Builder, base: bpy.types.NodeSocket, on_gloss: float, on_matt: tuple[float, float], name: str
) -> bpy.types.NodeSocket:
    """The roughness that a mark goes to: a fixed one on gloss, on matt one from where matt begins to where it ends.

    No steady rule would do: every one has a roughness that it leaves as it is, and there marks could not be seen.
    """
    is_matt = b.math("GREATER_THAN", base, _TURN, "Is matt")
    least, most = on_matt
    slope = (most - least) / (1.0 - _TURN)
    polished = b.multiply_add(base, slope, most - slope, "Polished")
    return b.mix(is_matt, on_gloss, polished, name)
