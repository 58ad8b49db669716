"""What an artist says of single bricks of a build."""

from fnmatch import fnmatchcase

import bpy

from ...core.errors import BuildProblem
from ...scene.build import counted, pins, rolls
from ...scene.build.build import read
from ...scene.columns import Columns
from ...transaction import transaction


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
