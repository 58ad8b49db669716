"""What an artist says of single bricks of a build."""

from fnmatch import fnmatchcase

import bpy

from ...core.errors import BuildProblem
from ...nodes import amounts as of_materials
from ...scene.build import amounts as of_bricks
from ...scene.build import counted, pins, rolls
from ...scene.build.build import read
from ...scene.columns import Columns
from ...scene.wear import slots
from ...transaction import transaction
from ..wear.dials import check


def pin(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Pins those of the things that are bricks of the build: they stay where the export put them, others keep clear."""
    with transaction():
        return pins.pin(_of_build(collection, things))


def unpin(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Takes the pins off those of the things that are bricks of the build."""
    with transaction():
        return pins.unpin(_of_build(collection, things))


def roll_again(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Draws the motions of those of the things that are bricks of the build anew; how each wears does not change."""
    with transaction():
        return rolls.again(_of_build(collection, things))


def undo_rolls(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Gives those of the things that are bricks of the build their first draw back."""
    with transaction():
        return rolls.undo(_of_build(collection, things))


def give_amount(collection: bpy.types.Collection, things: list[bpy.types.Object], amount: float) -> int:
    """Lets those of the things that are bricks of the build have so much of what use brings: 0 new, 1 as the build;
    returns of how many that was not said before. It acts at once, and at every Apply."""
    check("amount of a brick", amount)
    with transaction():
        return of_bricks.give(_of_build(collection, things), amount)


def give_amount_to_materials(
    collection: bpy.types.Collection, materials: list[bpy.types.Material], amount: float
) -> int:
    """The same for those of the materials that the build wears; BuildProblem where it wears none of them."""
    check("amount of a material", amount)
    shown = set(slots.materials(read(collection).objects))
    worn = [one for one in materials if one in shown and of_materials.of(one) is not None]
    if not worn:
        raise BuildProblem(f'the build "{collection.name}" wears no such material: apply a preset first')
    with transaction():
        return of_materials.give(worn, amount)


def count_in(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Counts those of the things that stand in the build as bricks; of how many this was not said before."""
    with transaction():
        return counted.count(_standing_in(collection, things), True)


def leave_out(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Leaves those of the things that stand in the build alone; of how many this was not said before."""
    with transaction():
        return counted.count(_standing_in(collection, things), False)


def named_like(collection: bpy.types.Collection, pattern: str) -> list[bpy.types.Object]:
    """The meshes of a build whose names fit a pattern of * and ?; BuildProblem where none does."""
    meshes = [thing for thing in Columns(collection).objects if thing.type == "MESH"]
    found = [thing for thing in meshes if fnmatchcase(thing.name, pattern)]
    if not found:
        raise BuildProblem(f'no object of the build "{collection.name}" is called "{pattern}": give the name of one')
    return found


def materials_like(collection: bpy.types.Collection, pattern: str) -> list[bpy.types.Material]:
    """The materials of a build whose names fit a pattern of * and ?; BuildProblem where none does."""
    found = [one for one in slots.materials(read(collection).objects) if fnmatchcase(one.name, pattern)]
    if not found:
        raise BuildProblem(f'no material of the build "{collection.name}" is called "{pattern}": give the name of one')
    return found


def _standing_in(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> list[bpy.types.Object]:
    inside = {thing for thing in Columns(collection).objects if thing.type == "MESH"}
    found = [thing for thing in things if thing in inside]
    if not found:
        raise BuildProblem(f'no object of the build "{collection.name}" is selected: select some first')
    return found


def _of_build(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> list[bpy.types.Object]:
    bricks = set(read(collection).objects)
    found = [thing for thing in things if thing in bricks]
    if not found:
        raise BuildProblem(f'no brick of the build "{collection.name}" is selected: select some first')
    return found
