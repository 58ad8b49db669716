"""What an artist says of places in the scene: worn here, clean here."""

from fnmatch import fnmatchcase

import bpy

from ...core.errors import BuildProblem, DialProblem
from ...core.wear.place import CLEAN, MOST, USUAL, WORN, Place
from ...nodes.places import lay
from ...scene.wear import places
from ...transaction import transaction

__all__ = ["CLEAN", "MOST", "WORN", "Place", "add_place", "empties_like", "place_of", "put_place", "take_place"]
place_of = places.of


def put_place(thing: bpy.types.Object, place: Place) -> None:
    """Makes an empty a place, or another one of it: near it there is more of what use brings, or less, out to where it
    is drawn. Acts at once and at every Apply, moves with the empty, and stays with it through Clear."""
    _check(place)
    if not places.can_be(thing):
        raise BuildProblem(f'"{thing.name}" cannot be a place: select an empty that nothing hangs on')
    with transaction():
        places.put(thing, place)
        lay(places.in_file())


def add_place(scene: bpy.types.Scene, things: list[bpy.types.Object], place: Place) -> bpy.types.Object:
    """A new empty around some bricks, or all that hangs on what is given, as a place."""
    _check(place)
    everything = dict.fromkeys(one for thing in things for one in (thing, *thing.children_recursive))
    meshes = [one for one in everything if one.type == "MESH"]
    if not meshes:
        raise BuildProblem("nothing is selected: select the bricks that a place shall lie around, or an empty")
    with transaction():
        empty = places.around(meshes, scene, "Worn here" if place.amount > USUAL else "Clean here")
        places.put(empty, place)
        lay(places.in_file())
    return empty


def take_place(thing: bpy.types.Object) -> None:
    """The empty stays, and is no place any more."""
    if places.of(thing) is None:
        raise BuildProblem(f'"{thing.name}" is no place: select one that is')
    with transaction():
        places.take(thing)
        lay(places.in_file())


def empties_like(pattern: str) -> list[bpy.types.Object]:
    """The empties that can be places and whose names fit a pattern of * and ?; BuildProblem where none does."""
    found = [one for one in bpy.data.objects if places.can_be(one) and fnmatchcase(one.name, pattern)]
    if not found:
        raise BuildProblem(f'no empty of the file is called "{pattern}": give the name of one that nothing hangs on')
    return found


def _check(place: Place) -> None:
    if not 0.0 <= place.amount <= MOST:
        raise DialProblem(f"the amount of a place is at {place.amount:g}: give a number from 0 to {MOST:g}")
