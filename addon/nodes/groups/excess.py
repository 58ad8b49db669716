"""The step by which layers go on beyond a full amount: where a mark is full it cannot grow, so all others grow more."""

import bpy

from ..builder import Builder, Value


def beyond(b: Builder, amount: Value, more: Value, name: str) -> bpy.types.NodeSocket:
    """The amount itself up to 1, to the last digit; at 2 so much more than that, and in between the way there."""
    over = b.math("SUBTRACT", amount, 1.0, "Over full", clip=True)
    return b.multiply_add(b.math("MULTIPLY", over, over, "Bent"), more, amount, name)
