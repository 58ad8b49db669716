"""The step that the layers share: a picture laid on a brick at its real size, read as 0 clean to 1 marked."""

from collections.abc import Callable, Sequence

import bpy

from ...core.wear.texture import Levels, Texture
from ..builder import Builder, Socket, group, socket
from .excess import beyond

_PICTURE, _GREY, _LEVELS, _TWICE = "Picture", "Grey", "Levels", "Twice"
_UPRIGHT, _ACROSS = "As high as wide", "As high as wide, upright on top"
_OBLONG = "oblong"
_SQUARE = 0.01  # share by which sides may differ that nobody sees squeezed
_BLEND = 0.2  # share of the box projection in which two sides melt, on stud walls and slopes


def layer(
    kind: str,
    version: int,
    inputs: Sequence[Socket],
    outputs: Sequence[Socket],
    build: Callable[[Builder, bpy.types.Image], None],
    texture: Texture,
) -> bpy.types.NodeTree:
    """The group of a layer that lays this picture on a brick, read by its levels."""
    kind = kind if _is_square(texture.image) else f"{_OBLONG} {kind}"
    tree = group(kind, version, inputs, outputs, lambda b: build(b, texture.image), (texture.image,))
    read_as(tree, texture.levels)
    for name in (_UPRIGHT, _ACROSS):
        if name in tree.nodes:
            socket(tree.nodes[name].inputs, "Value_001").default_value = _ratio(texture.image)
    return tree


def marks(
    b: Builder, image: bpy.types.Image, place_mm: bpy.types.NodeSocket, size_mm: bpy.types.NodeSocket
) -> bpy.types.NodeSocket:
    """The strength of the mark at a place: 0 clean, 1 the strongest of the picture. `size_mm` is one repeat's width."""
    repeats = b.math("DIVIDE", 1.0, size_mm, "Repeats per mm")
    vector = b.vector("SCALE", place_mm, repeats)
    if not _is_square(image):
        vector = _as_high_as_wide(b, vector, _ratio(image))
    picture = b.add(
        "ShaderNodeTexImage",
        _PICTURE,
        {"Vector": vector},
        image=image,
        projection="BOX",
        projection_blend=_BLEND,
        interpolation="Linear",
        extension="REPEAT",
    )
    grey = b.dot(socket(picture.outputs, "Color"), (0.0, 1.0, 0.0), _GREY)
    return b.math("ADD", grey, 0.0, _LEVELS, clip=True)


def dialled(b: Builder, amount: bpy.types.NodeSocket) -> bpy.types.NodeSocket:
    """What the marks are multiplied by at an amount, and cut at 1: beyond a full one faint marks come out."""
    return beyond(b, amount, 0.0, _TWICE)


def there(b: Builder) -> bpy.types.NodeSocket:
    """1 where the picture of `marks` is there, 0 where the renderer shows magenta in place of a missing one."""
    colour = socket(b.tree.nodes[_PICTURE].outputs, "Color")
    return b.math("ADD", b.dot(colour, (-0.5, 1.0, -0.5), "Magenta"), 1.0, "Picture is there", clip=True)


def read_as(tree: bpy.types.NodeTree, levels: Levels) -> None:
    """Sets which greys of the picture mean clean and marked, and that the magenta of a missing one means clean."""
    span = levels.marked - levels.clean
    socket(tree.nodes[_GREY].inputs, "Vector_001").default_value = [weight / span for weight in levels.weights]
    socket(tree.nodes[_LEVELS].inputs, "Value_001").default_value = -levels.clean / span
    if _TWICE in tree.nodes:
        socket(tree.nodes[_TWICE].inputs, "Value_001").default_value = levels.twice - 2.0


def _as_high_as_wide(b: Builder, vector: bpy.types.NodeSocket, ratio: float) -> bpy.types.NodeSocket:
    """The place in a picture `ratio` times as wide as high.

    A box projection shows z upwards on the sides, and x on top; on the sides along x, x lies across.
    """
    with b.frame("On each side as much higher up the picture as it is wider"):
        parts = b.add("ShaderNodeSeparateXYZ", "Its parts", {"Vector": vector})
        x, y, z = (socket(parts.outputs, part) for part in "XYZ")
        normal = socket(b.add("ShaderNodeTexCoord", "Own axes").outputs, "Normal")
        facing = b.add("ShaderNodeSeparateXYZ", "Facing", {"Vector": normal})
        over, beside = (b.math("ABSOLUTE", socket(facing.outputs, part)) for part in "ZY")
        higher = b.math("MULTIPLY", x, ratio, _ACROSS)
        x = b.mix(b.math("GREATER_THAN", over, beside, "On top"), x, higher, "Upright on top")
        z = b.math("MULTIPLY", z, ratio, _UPRIGHT)
        return socket(b.add("ShaderNodeCombineXYZ", "In the picture", {"X": x, "Y": y, "Z": z}).outputs, "Vector")


def _ratio(image: bpy.types.Image) -> float:
    width, height = image.size
    return width / height if height else 1.0


def _is_square(image: bpy.types.Image) -> bool:
    return abs(_ratio(image) - 1.0) < _SQUARE
