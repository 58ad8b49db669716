"""What a brick has of every layer, and where on it we are: what the layers of its faces ask for."""

from collections.abc import Callable
from functools import partial

import bpy

from ...core.wear import names
from ...core.wear.layers import LAYERS
from ..builder import Builder, Value, group_socket
from .excess import beyond
from .rub import TWICE
from .swatches import OF_COLOUR


class Brick:
    """The values of one brick, as sockets."""

    def __init__(
        self,
        b: Builder,
        space: bpy.types.NodeTree,
        sides: bpy.types.NodeTree,
        near: bpy.types.NodeTree,
        lit: bpy.types.NodeTree,
        look_up: bpy.types.NodeTree | None,
    ) -> None:
        given = _found(b, look_up) if look_up else b.input
        on_brick = partial(group_socket, b.subgroup(space, {}), "OUTPUT")
        on_side = partial(group_socket, b.subgroup(sides, {}), "OUTPUT")
        self.reach, self.sky = on_side("Reach"), on_side("Sky")
        self.place, self.spot, self.patch = on_brick("Place"), on_brick("Spot"), on_brick("Patch")
        self.own, self.studded = on_brick("Own"), on_brick("Studded")
        with b.frame("One dial for the scene; nothing outside a build"):
            dial = b.attribute("VIEW_LAYER", names.WEAR)
            part = b.math("MINIMUM", dial, 1.0, "No radius and no gloss past the mould's")
            radius = b.math("MULTIPLY", b.input("Rounding"), part, "Rounding dialled")
            self.radius = b.math("MULTIPLY", radius, on_brick("Build"), "Rounding here")
            falls = group_socket(b.subgroup(lit, {}), "OUTPUT", "Light")
            near_places = group_socket(b.subgroup(near, {}), "OUTPUT", "Times")
            used = b.math("MULTIPLY", on_brick("Use"), near_places, "Used so much here")
            self.amount = partial(_amount, b, given, on_brick, used, dial, part)
            newer = b.math("MINIMUM", near_places, 1.0, "Hands fade no colour")
            aged = b.math("MULTIPLY", on_brick("Use"), newer, "Aged so much here")
            self.smudged = b.math("MULTIPLY", self.amount("smudges"), self.reach, "Smudged where reached")
            self.spread = self.amount("tint", "Lot spread")
        with b.frame("Used bricks come from many hands, and to the build at different times"):
            self.scratched = b.math("MULTIPLY", self.amount("scratches"), self.reach, "Scratched where reached")
            self.rubbed = b.math("MULTIPLY", self.amount("rub"), self.reach, "Rubbed where reached")
            faded = partial(self.amount, "fade", bent=given("Fading twice"), use=aged)
            self.yellowed, self.bleached = (
                b.math("MULTIPLY", faded(of), falls, f"{of} where lit") for of in ("Yellowing", "Bleaching")
            )


def _found(b: Builder, look_up: bpy.types.NodeTree) -> Callable[[str], Value]:
    """What comes in by name, of a colour what was looked up."""
    of_colour = {each.name for each in OF_COLOUR}
    found = b.subgroup(look_up, {"Color": b.input("Base Color")})
    return lambda name: group_socket(found, "OUTPUT", name) if name in of_colour else b.input(name)


def _amount(
    b: Builder,
    given: Callable[[str], Value],
    on_brick: Callable,
    used: Value,
    dial: Value,
    part: Value,
    layer: str,
    of: str = "",
    bent: Value = 0.0,
    use: Value | None = None,
) -> Value:
    """What a brick has of a layer's strength, or of what was worked out from it: its share of it, as many times as the
    dial, the scene and the artist's amounts say, by the mask.

    Twice is to be twice in what is seen: so much more than that is `bent`, where the layer itself does not see to it.
    Cycles works out once, before it renders, what is the same for all, and leaves out what multiplies by an amount of
    1.
    """
    declared = LAYERS[layer]
    of = of or declared.socket
    here = given(of)
    own = on_brick(f"Share of {layer}") if declared.share else None
    if own and declared.share.is_full:
        here, own = b.math("MULTIPLY", here, own, f"{of} of the brick", clip=True), None
    times: Value = b.math("ADD", b.attribute("VIEW_LAYER", names.MORE[layer]), 1.0, f"More {layer}")
    times = b.math("MULTIPLY", times, part if declared.ends_as_declared else dial, f"{of} dialled")
    if declared.of_use:
        times = b.math("MULTIPLY", times, b.input(names.AMOUNT), f"{of} of the material")
    use = use or (used if declared.of_use else on_brick("Build"))
    if bent:
        times = beyond(b, b.math("MULTIPLY", times, use, f"{of} of its own"), bent, f"{of} bent")
    else:
        here, times = b.math("MULTIPLY", here, times, f"{of} and more"), use
    here = b.math("MULTIPLY", here, times, f"{of} here", clip=declared.clips)
    if own:
        here = b.math("MULTIPLY", beyond(b, here, TWICE, f"{of} bent"), own, f"{of} of the brick")
    return b.math("MULTIPLY", here, b.math("ADD", b.input(names.MASK[layer]), 0.0, f"{layer} masked", clip=True))
