"""What an artist says of single bricks of a build."""

import bpy

from ..core.errors import BuildProblem
from ..scene import pins, rolls
from ..scene.build import read


def pin(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Pins those of the things that are bricks of the build: they stay where the export put them, others keep clear."""
    return pins.pin(_of_build(collection, things))


def unpin(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Takes the pins off those of the things that are bricks of the build."""
    return pins.unpin(_of_build(collection, things))


def roll_again(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Draws the motions of those of the things that are bricks of the build anew; how each wears does not change."""
    return rolls.again(_of_build(collection, things))


def undo_rolls(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Gives those of the things that are bricks of the build their first draw back."""
    return rolls.undo(_of_build(collection, things))


def _of_build(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> list[bpy.types.Object]:
    bricks = set(read(collection).objects)
    found = [thing for thing in things if thing in bricks]
    if not found:
        raise BuildProblem(f'no brick of the build "{collection.name}" is selected: select some first')
    return found
