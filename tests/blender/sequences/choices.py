"""What of the open file an artist may choose, by name; and selecting it.

Raises Nothing where what was chosen is not there any more.
"""

from collections.abc import Callable, Iterable

import bpy

from addon.scene.wear import slots

from .hand import Hand, Nothing


def thing(name: str) -> bpy.types.Object:
    found = bpy.context.view_layer.objects.get(name)
    if found is None:
        raise Nothing
    return found


def block(blocks: bpy.types.bpy_prop_collection, name: str):
    found = blocks.get(name)
    if found is None or found.library:
        raise Nothing
    return found


def bricks() -> list[str]:
    """Names of the mesh objects that the scene shows."""
    return sorted(each.name for each in bpy.context.view_layer.objects if each.type == "MESH")


def empties() -> list[str]:
    return sorted(each.name for each in bpy.context.view_layer.objects if each.type == "EMPTY")


# What is chosen.


def a_brick(hand: Hand) -> str:
    return hand.pick(bricks())


def an_object(hand: Hand) -> str:
    return hand.pick(bricks() + empties())


def an_empty(hand: Hand) -> str:
    return hand.pick(empties())


def some_bricks(hand: Hand) -> list[str]:
    """One to four, next to each other by name."""
    names = bricks()
    first = names.index(hand.pick(names))
    return names[first : first + hand.pick((1, 2, 3, 4))]


def two_bricks(hand: Hand) -> list[str]:
    names = bricks()
    one = hand.pick(names)
    return [one, hand.pick([name for name in names if name != one])]


def a_room(hand: Hand) -> str:
    return hand.pick(sorted(room.name for room in bpy.context.scene.collection.children_recursive))


def a_material(hand: Hand) -> str:
    """One of the artist's, not one that came with a look."""
    return hand.pick(sorted(each.name for each in bpy.data.materials if slots.GIVEN not in each))


def a_name(hand: Hand) -> str:
    return hand.pick(("door", "roof", "mine", "x rounded", "brick.001"))


def a_shift(hand: Hand) -> list[float]:
    """In pitches."""
    return [hand.number(-4.0, 4.0) for _ in range(3)]


def a_nudge(hand: Hand) -> list[float]:
    """In pitches; some channels stay as they are."""
    return [hand.pick((0.0, 0.25, -1.5)) for _ in range(3)]


def an_angle(hand: Hand) -> float:
    return hand.number(-2.0, 2.0)


def an_axis(hand: Hand) -> int:
    return hand.pick((0, 1, 2))


def a_factor(hand: Hand) -> float:
    return hand.pick((0.5, 0.9, 1.25, 2.0))


def a_frame(hand: Hand) -> int:
    return hand.pick((1, 20, 45, 90))


def a_channel(hand: Hand) -> str:
    return hand.pick(("location", "rotation_euler", "scale"))


def a_way(hand: Hand) -> str:
    return hand.pick(("shared", "own"))


def a_yes(hand: Hand) -> bool:
    return hand.pick((True, False))


def a_modifier(hand: Hand) -> str:
    return hand.pick(("BEVEL", "SUBSURF", "MIRROR", "SOLIDIFY"))


# What is done with it.


def all_of(names: Iterable[str]) -> list[bpy.types.Object]:
    """Those that are there; Nothing where none is."""
    found = [bpy.context.view_layer.objects.get(name) for name in names]
    if not any(found):
        raise Nothing
    return [each for each in found if each is not None]


def select(names: Iterable[str]) -> None:
    """Selects these alone, the first the active one."""
    things = all_of(names)
    for each in bpy.context.view_layer.objects:
        each.select_set(False)
    for each in things:
        each.select_set(True)
    bpy.context.view_layer.objects.active = things[0]


def edit(name: str, do: Callable[[], object]) -> None:
    select([name])
    bpy.ops.object.mode_set(mode="EDIT")
    try:
        do()
    finally:
        bpy.ops.object.mode_set(mode="OBJECT")
