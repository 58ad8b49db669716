"""Amounts of their own for selected bricks and for a material: given by buttons, or typed into fields that show what
the active ones have."""

from collections.abc import Callable

import bpy

from ... import usecases
from ...blender import context
from ...core.wear.layers import LAYERS
from .. import told
from ..action import Report
from ..build.selection import OnSelection
from ..context import Context, Settings
from . import follow

NEW, HALF, USUAL = 0.0, 0.5, usecases.USUAL
_OF_USE = " or ".join(", ".join(name for name, layer in LAYERS.items() if layer.of_use).rsplit(", ", 1))


class GiveAmount(OnSelection, bpy.types.Operator):
    """Let the selected bricks have so much of what use brings; the amount survives Apply and Clear"""

    bl_idname = "playworn.give_amount"
    bl_label = "Amount of Bricks"

    amount: bpy.props.FloatProperty(
        name="Amount",
        description="How much of what use brings: 0 is new, 1 as the build, 2 twice",
        default=HALF,
        min=0.0,
        max=usecases.MOST,
        subtype="FACTOR",
    )

    @classmethod
    def description(cls, _context: Context, properties: "GiveAmount") -> str:
        return {
            NEW: f"The selected bricks are new: no {_OF_USE}; what the mould gave stays",
            HALF: "The selected bricks have half of the wear that the build has",
            USUAL: "The selected bricks are worn as the build is again",
        }.get(properties.amount, "The selected bricks have so much of the wear that the build has")

    def act(self, context: Context) -> Report:
        build = context.scene.playworn.build
        count = usecases.give_amount(build, context.selected_objects, self.amount)
        told.look_by_hand(build)
        bricks = "1 brick is" if count == 1 else f"{count} bricks are"
        words = {NEW: "new", USUAL: "as worn as the build"}.get(self.amount, f"at {self.amount:.0%} of the wear")
        return "INFO", f"{bricks} {words}"


def active_material() -> bpy.types.Material | None:
    """The material of the active object whose amount can be set; None where it is not worn."""
    thing = context().view_layer.objects.active
    material = thing.active_material if thing else None
    return material if material and usecases.amount_of_material(material) is not None else None


def brick_amount(_settings: Settings) -> float:
    thing = context().view_layer.objects.active
    return usecases.amount_of_brick(thing) if thing else USUAL


def give_to_bricks(settings: Settings, amount: float) -> None:
    _give(settings, lambda: usecases.give_amount(settings.build, list(context().selected_objects), amount))


def material_amount(_settings: Settings) -> float:
    material = active_material()
    return (usecases.amount_of_material(material) if material else None) or 0.0


def give_to_material(settings: Settings, amount: float) -> None:
    if material := active_material():
        _give(settings, lambda: usecases.give_amount_to_materials(settings.build, [material], amount))


def _give(settings: Settings, give: Callable[[], int]) -> None:
    if settings.build is None:
        return
    with follow.problem_shown(settings):
        give()
    told.look_by_hand(settings.build)
