"""Finger smudges from a texture: a film of skin grease, seen in the sheen and nowhere else."""

import bpy

from ...core.wear.texture import Texture
from ..builder import VECTOR, Builder, Socket
from .gloss import marked
from .picture import dialled, layer, marks

_VERSION = 9
_SMEARED = 0.5  # roughness of grease on gloss, which turns duller under a finger
_WETTED = (0.17, 0.4)  # of grease that fills a silken and a raw surface; common practice, no published source

_INPUTS = (
    Socket("Place", "Position in mm in the build, along the brick's own axes", VECTOR),
    Socket("Roughness", "Roughness of the surface under the film", default=0.5),
    Socket("Base", "Roughness of the surface before any mark, which tells whether it shines", default=0.5),
    Socket("Amount", "0 clean, 1 the thickest film, beyond it more of it", high=32.0),
    Socket("Size", "Real width in mm of one repeat of the texture", default=60.0, low=0.1, high=10000.0),
)
_OUTPUTS = (
    Socket("Roughness", "Roughness with the film, between the surface's own and the film's"),
    Socket("Film", "Where fingers have been, whatever the amount: 0 nowhere, 1 the thickest film"),
    Socket("Mask", "How much of the film's finish is here: 0 none, 1 all"),
)


def smudges(texture: Texture) -> bpy.types.NodeTree:
    """The group that smudges a surface with this picture."""
    return layer("smudges", _VERSION, _INPUTS, _OUTPUTS, _build, texture)


def _build(b: Builder, image: bpy.types.Image) -> None:
    film = marks(b, image, b.input("Place"), b.input("Size"))
    covered = b.math("MULTIPLY", film, dialled(b, b.input("Amount")), "Film", clip=True)
    greased = marked(b, b.input("Base"), _SMEARED, _WETTED, "Smeared or wetted")
    b.output("Roughness", b.mix(covered, b.input("Roughness"), greased, "Under the film"))
    b.output("Film", film)
    b.output("Mask", covered)
