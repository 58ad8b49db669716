"""What materials make of their surfaces, as far as constants tell it."""

from collections.abc import Iterable

import bpy

from ..core.exports.stated import Surface
from . import shaders
from .trees import trees


def surfaces(materials: Iterable[bpy.types.Material]) -> list[Surface]:
    """The first shader that can wear of each material, those without any left out."""
    found = []
    for material in materials:
        for tree in trees(material):
            if able := shaders.shaders(tree):
                found.append(shaders.surface(tree, able[0]))
                break
    return found
