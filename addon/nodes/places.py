"""The places that the wear of a file knows of."""

from collections.abc import Sequence

import bpy

from ..core.wear.place import Place
from . import refill
from .groups import places


def lay(spheres: Sequence[tuple[bpy.types.Object, Place]]) -> None:
    """Lets all wear of the file know of these places; it is not put in anew."""
    wanted = [(thing, place, thing.empty_display_size) for thing, place in spheres]
    refill.lay(places.KIND, places.told, places.fill, wanted)
