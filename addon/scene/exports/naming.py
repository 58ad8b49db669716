"""Passing names for what comes in, until it is known what is kept.

Blender keeps data-blocks sorted by name and looks for the place of a new one item by item, from the end of their list.
In the order of a file, or where names are taken, that grows with the square of their number; names that rise as things
come in have their place at once.
"""

from collections.abc import Iterable
from itertools import count

import bpy

NAMED = "playworn_named"  # raw property on what goes by a passing name: the one that the export gave it
FRONT, END = "!", "~"  # of all names that people give


class Passing:
    """Rising names that all start alike, and what was named so."""

    def __init__(self, start: str):
        self._start, self._number = start, count()
        self._named: list[tuple[str, int, bpy.types.ID]] = []

    def next(self) -> str:
        return f"{self._start}{next(self._number):08d}"

    def keep(self, block: bpy.types.ID, name: str) -> None:
        """A data-block came under one of them; its own is `name`."""
        self._named.append((name, len(self._named), block))

    def settle(self) -> None:
        """Gives all their own names, those that Blender sorts last at the end."""
        for name, _, block in sorted(self._named, key=lambda each: (each[0].lower(), each[1])):
            block.name = name

    def put_off(self) -> None:
        """Lets all go by their passing names until each is `named`."""
        for name, _, block in self._named:
            block[NAMED] = name


def of(block: bpy.types.ID) -> str:
    """The name that an export gave a data-block."""
    return block.get(NAMED, block.name)


def named(blocks: Iterable[bpy.types.ID]) -> None:
    """Gives data-blocks their own names, as far as these were put off."""
    for block in blocks:
        if NAMED in block:
            block.name = block[NAMED]
            del block[NAMED]
