"""What the tool needs to know about a texture: whether it is one, which greys mean clean, whether it tiles."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from hashlib import blake2b
from pathlib import PurePath
from typing import Any

import numpy as np

from ..pictures import header

IMAGE_SUFFIXES = frozenset({".png", ".tif", ".tiff", ".exr", ".jpg", ".jpeg", ".webp"})

_SIGNATURES = (header.PNG, header.JPEG, header.EXR, *header.TIFFS)

# Stamps on images: what the tool brought in itself, it also takes away again.
STAND_IN = "playworn_stand_in"
BROUGHT_IN = "playworn_brought_in"
LEVELS = "playworn_levels"  # of a stand-in: the greys of its clean and its marked end
TWICE = "playworn_twice"  # and by what its marks are multiplied to be twice as strong
LAYER = "playworn_layer"  # of a picture taken out of several: by what it is known, and which of them it is
MARK = "playworn_mark"  # of a stand-in with few pixels: the width its marks had, a share of the picture's


@dataclass(frozen=True)
class Levels:
    """Which grey of a texture means an untouched surface and which the strongest mark; either may be the brighter."""

    clean: float = 0.0
    marked: float = 1.0
    twice: float = 2.0  # by what the marks are multiplied, and cut at 1, to be twice as strong in the mean

    def marks(self, grey: np.ndarray) -> np.ndarray:
        """The strength of the marks, 0 clean to 1."""
        return np.clip((grey - self.clean) / (self.marked - self.clean), 0.0, 1.0)

    @property
    def weights(self) -> tuple[float, float, float]:
        """How red, green and blue make the grey: any grey stays itself, and magenta reads as clean.

        Magenta (1, 0, 1) is what Blender's renderers show in place of a picture that has gone missing.
        """
        share = max(0.5, 0.5 * self.clean) if self.clean > self.marked else min(0.0, 0.5 * self.clean)
        return share, 1.0 - 2.0 * share, share


@dataclass(frozen=True)
class Texture:
    """A picture (a Blender image, read as data) that drives a layer, and how its greys are to be read."""

    image: Any
    levels: Levels = Levels()
    all_by_name: Mapping[str, "Texture"] = field(default_factory=dict, compare=False)  # where several serve

    def on(self, surface: str) -> "Texture":
        """The one of several that a material shows, drawn by both names: it stays when others come and go."""
        return self.all_by_name[max(self.all_by_name, key=partial(_draw, surface))] if self.all_by_name else self


WearImages = Mapping[str, Texture]  # by the kind of picture, which is called as its layer


def _draw(surface: str, name: str) -> bytes:
    return blake2b(f"{surface}/{name}".encode("utf-8", "replace"), digest_size=8).digest()


def is_picture(head: bytes) -> bool:
    """Whether a file that begins like this (12 bytes are enough) is one of the kinds of picture; their signatures."""
    return head.startswith(_SIGNATURES) or (head.startswith(b"RIFF") and head[8:12] == b"WEBP")


def is_image(name: str) -> bool:
    """Whether a file of this name is a picture the wear can use."""
    return PurePath(name).suffix.lower() in IMAGE_SUFFIXES


def levels(grey: np.ndarray) -> Levels:
    """How to read a texture: most of a surface is clean, so the clean end is the one the median lies nearest to.

    The outermost 0.1 % at each end are left out, so that a speck does not set the scale. A flat picture has no marks.
    """
    dark, middle, bright = (float(value) for value in np.percentile(grey, (0.1, 50.0, 99.9)))
    if bright - dark < 1e-4:
        return Levels(clean=bright, marked=bright + 1.0)
    if bright - middle < middle - dark:
        return Levels(clean=bright, marked=dark)
    return Levels(clean=dark, marked=bright)


def seam(grey: np.ndarray) -> float:
    """How visible the join of a repeated texture is: mean |difference across the join| over mean |difference of
    neighbours|, the worse of both directions. 1 tiles unseen; a flat picture counts as 1."""
    return max(_seam_of_rows(grey), _seam_of_rows(grey.T))


def _seam_of_rows(grey: np.ndarray) -> float:
    if len(grey) < 2:
        return 1.0
    inside = float(np.abs(np.diff(grey, axis=0)).mean())
    across = float(np.abs(grey[0] - grey[-1]).mean())
    return across / inside if inside > 0.0 else 1.0
