"""Places by which layers are stronger or weaker: empties of the artist's, as large as they are drawn, told by a raw
property. They survive Clear, as pins do."""

from collections.abc import Iterable

import bpy
import numpy as np
from mathutils import Vector

from ... import raw
from ...core.wear.names import PLACE
from ...core.wear.place import MOST, Place
from ...transaction import keep

Spheres = list[tuple[bpy.types.Object, Place]]
_DRAWN = "SPHERE"


def of(thing: bpy.types.Object) -> Place | None:
    """What is said of an object; None for nothing, or where another hand wrote something else."""
    told = raw.numbers(thing, PLACE, 2)
    return Place(min(max(told[0], 0.0), MOST), told[1] > 0.0) if told and can_be(thing) else None


def in_file() -> Spheres:
    """All that a scene shows, by name."""
    things = [thing for thing in bpy.data.objects if PLACE in thing and thing.users_scene]
    return [(thing, place) for thing in sorted(things, key=lambda each: each.name_full) if (place := of(thing))]


def can_be(thing: bpy.types.Object) -> bool:
    """Whether an object can be a place: an empty that is drawn as such and carries nothing, as a build's frame does."""
    is_plain = thing.type == "EMPTY" and thing.empty_display_type != "IMAGE"
    return is_plain and thing.instance_collection is None and not thing.children


def put(thing: bpy.types.Object, place: Place) -> None:
    """Says it of an object, which is drawn as a sphere from here on."""
    drawn = thing.empty_display_type
    if drawn != _DRAWN:
        keep(lambda: lambda: setattr(thing, "empty_display_type", drawn))
        thing.empty_display_type = _DRAWN
    raw.put(thing, PLACE, [place.amount, float(place.is_smooth)])


def take(thing: bpy.types.Object) -> None:
    """The object is a plain empty again."""
    raw.drop(thing, PLACE)


def around(things: Iterable[bpy.types.Object], scene: bpy.types.Scene, name: str) -> bpy.types.Object:
    """A new empty that holds some meshes, in a scene's own collection."""
    corners = np.array([thing.matrix_world @ Vector(corner) for thing in things for corner in thing.bound_box])
    low, high = corners.min(axis=0), corners.max(axis=0)
    made = list[bpy.types.Object]()
    keep(lambda: lambda: bpy.data.batch_remove(made))
    made.append(bpy.data.objects.new(name, None))
    (empty,) = made
    empty.empty_display_type, empty.empty_display_size = _DRAWN, 1.0
    empty.location = (0.5 * (low + high)).tolist()
    empty.scale = [max(0.5 * float(np.linalg.norm(high - low)), 1e-6)] * 3
    scene.collection.objects.link(empty)
    return empty
