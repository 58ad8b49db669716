"""Places in the scene near which layers are stronger or weaker: made by a click, changed by fields."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import bpy

from ... import usecases
from ...blender import context
from .. import told
from ..action import OnBuild, Report
from ..context import Context, Settings
from . import follow

WORN, CLEAN = usecases.WORN, usecases.CLEAN


class AddPlace(OnBuild, bpy.types.Operator):
    """Make the active empty a place, or a new one around what is selected; it acts at once and moves with the empty"""

    bl_idname = "playworn.add_place"
    bl_label = "Worn Here"

    amount: bpy.props.FloatProperty(
        name="Amount",
        description="How many times of what use brings there is in its middle: 0 is new, 1 as all around",
        default=WORN,
        min=0.0,
        max=usecases.MOST_OF_PLACE,
    )

    @classmethod
    def description(cls, _context: Context, properties: "AddPlace") -> str:
        more = "more worn" if properties.amount > 1.0 else "as good as new"
        return (
            f"Bricks are {more} near the active empty, out to where it is drawn; where none is active, a new one lies "
            "around what is selected. It acts at once, moves with the empty, and survives Apply"
        )

    def act(self, context: Context) -> Report:
        scene, active = context.scene, context.view_layer.objects.active
        place = usecases.Place(self.amount)
        if active and active.select_get() and active.type == "EMPTY" and not active.children:
            usecases.put_place(active, place)
        else:
            active = usecases.add_place(scene, list(context.selected_objects), place)
            for thing in context.selected_objects:
                thing.select_set(False)
            active.select_set(True)
            context.view_layer.objects.active = active
        told.look_by_hand(scene.playworn.build)
        return "INFO", f'"{active.name}" is a place: scale it for another radius'


class TakePlace(OnBuild, bpy.types.Operator):
    """Let the active empty be no place any more; the empty stays"""

    bl_idname = "playworn.take_place"
    bl_label = "Remove Place"

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or ("Select a place first" if active() is None else "")

    def act(self, context: Context) -> Report:
        thing = active()
        assert thing is not None
        usecases.take_place(thing)
        told.look_by_hand(context.scene.playworn.build)
        return "INFO", f'"{thing.name}" is a plain empty again'


def active() -> bpy.types.Object | None:
    """The active object where it is a place."""
    thing = context().view_layer.objects.active
    return thing if thing and usecases.place_of(thing) else None


def field(name: str) -> tuple[Callable[[Settings], Any], Callable[[Settings, Any], None]]:
    """How a field of the active place is read and set."""

    def get(_settings: Settings) -> Any:
        thing = active()
        return getattr(usecases.place_of(thing) or usecases.Place(WORN), name) if thing else False

    def put(settings: Settings, value: Any) -> None:
        thing = active()
        if thing and (place := usecases.place_of(thing)):
            with follow.problem_shown(settings):
                usecases.put_place(thing, replace(place, **{name: value}))
            if settings.build is not None:
                told.look_by_hand(settings.build)

    return get, put


CLASSES = (AddPlace, TakePlace)
