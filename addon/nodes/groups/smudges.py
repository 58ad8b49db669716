"""Finger smudges from a texture: a film of skin grease, seen in the sheen and nowhere else."""

import bpy

from ...core.texture import Levels
from ..builder import VECTOR, Builder, Socket
from .picture import layer, marks

_VERSION = 5
_FILM_ROUGHNESS = 0.5  # glossy plastic turns duller under a finger, matt plastic glossier

_INPUTS = (
    Socket("Place", "Position on the brick in mm", VECTOR),
    Socket("Roughness", "Roughness of the surface under the film", default=0.5),
    Socket("Amount", "0 clean, 1 the thickest film"),
    Socket("Size", "Real width in mm of one repeat of the texture", default=60.0, low=0.1, high=10000.0),
)
_OUTPUTS = (
    Socket("Roughness", "Roughness with the film, between the surface's own and the film's"),
    Socket("Film", "Where fingers have been, whatever the amount: 0 nowhere, 1 the thickest film"),
)


def smudges(image: bpy.types.Image, levels: Levels) -> bpy.types.NodeTree:
    """The group that smudges a surface with this picture."""
    return layer("smudges", _VERSION, _INPUTS, _OUTPUTS, _build, image, levels)


def _build(b: Builder, image: bpy.types.Image) -> None:
    film = marks(b, image, b.input("Place"), b.input("Size"))
    covered = b.math("MULTIPLY", film, b.input("Amount"), "Film")
    b.output("Roughness", b.mix(covered, b.input("Roughness"), _FILM_ROUGHNESS, "Under the film"))
    b.output("Film", film)
