"""What a colour that differs from point to point needs to age and for its lots, looked up where a ray meets it."""

from functools import partial

import bpy

from ...core.wear.swatches import GAMMA, SIDE, SQUARES
from ..builder import COLOUR, Builder, Result, Socket, group, socket

KIND = "swatches"
_VERSION = 1
_PIXELS = SQUARES * SIDE

_INPUTS = (Socket("Color", "Colour of the clean material", COLOUR),)
OF_COLOUR = (
    Socket("Lot spread", "Share by which the widest colour lot differs in a channel"),
    Socket("Yellowing", "What light does to the most faded brick: 0 nothing, 1 all the blue is swallowed"),
    Socket("Bleaching", "What light does to the most faded brick: 0 nothing, 1 chalk"),
    Socket("Fading twice", "So much more than twice ages a brick to differ twice as much", low=-1.0, high=100.0),
)


def swatches(image: bpy.types.Image) -> bpy.types.NodeTree:
    """The group that looks a colour up in a picture of `core.swatches`."""
    return group(KIND, _VERSION, _INPUTS, OF_COLOUR, partial(_build, image=image), (image,))


def _build(b: Builder, image: bpy.types.Image) -> None:
    with b.frame("Where in a square red and green lie, and between which two squares blue does"):
        least = b.vector("MAXIMUM", b.input("Color"), (0.0, 0.0, 0.0), "No less than black")
        shown = b.vector("MINIMUM", least, (1.0, 1.0, 1.0), "No more than white")
        encoded = b.add("ShaderNodeGamma", "Encoded", {"Color": shown, "Gamma": GAMMA})
        steps, half = (SIDE - 1.0) / _PIXELS, 0.5 / _PIXELS
        spread = b.add(
            "ShaderNodeVectorMath",
            "In a square",
            {
                "Vector": socket(encoded.outputs, "Color"),
                "Vector_001": (steps, steps, SIDE - 1.0),
                "Vector_002": (half - 0.5 / SQUARES, half, 0.0),
            },
            operation="MULTIPLY_ADD",
        )
        parts = b.add("ShaderNodeSeparateXYZ", "Parts", {"Vector": socket(spread.outputs, "Vector")})
        red, green, blue = (socket(parts.outputs, axis) for axis in "XYZ")
        square = b.math("FLOOR", blue, name="Square")
        within = b.math("FRACT", blue, name="Towards the next")
    with b.frame("Both looked up"):
        middle = b.multiply_add(square, 1.0 / SQUARES, 0.5 / SQUARES, "Its middle, in rows")
        following = b.math("ADD", middle, 1.0 / SQUARES, "The next one's")
        one, next_one = (_in_square(b, image, red, green, each) for each in (middle, following))
    between = b.mix(within, socket(one.outputs, "Color"), socket(next_one.outputs, "Color"), "Between", "Color")
    found = b.add("ShaderNodeSeparateColor", "Found", {"Color": between})
    for each, channel in zip(OF_COLOUR, ("Red", "Green", "Blue"), strict=False):  # the last lies in the alpha
        b.output(each.name, socket(found.outputs, channel))
    twice = b.mix(within, socket(one.outputs, "Alpha"), socket(next_one.outputs, "Alpha"), "Between too")
    b.output(OF_COLOUR[-1].name, twice)


def _in_square(b: Builder, image: bpy.types.Image, red: Result, green: Result, middle: Result) -> bpy.types.Node:
    """What the picture has at a place in the square whose middle lies there, counted in rows of squares."""
    column = b.math("FRACT", middle, name="Column")
    row = b.math("FLOOR", middle, name="Row")
    across = b.math("ADD", column, red, "Across")
    up = b.multiply_add(row, 1.0 / SQUARES, green, "Up")
    place = b.add("ShaderNodeCombineXYZ", "Place", {"X": across, "Y": up})
    return b.add(
        "ShaderNodeTexImage",
        "Swatches",
        {"Vector": socket(place.outputs, "Vector")},
        image=image,
        interpolation="Linear",
        extension="EXTEND",
    )
