"""What the tool needs to know about a texture: what it seems to be, which greys mean clean, whether it tiles."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

import numpy as np

from ..pictures import header
from ..report import TextureUse
from . import words
from .layers import PICTURES

IMAGE_SUFFIXES = frozenset({".png", ".tif", ".tiff", ".exr", ".jpg", ".jpeg", ".webp"})

_SIGNATURES = (header.PNG, header.JPEG, header.EXR, *header.TIFFS)

# Stamps on images: what the tool brought in itself, it also takes away again.
STAND_IN = "playworn_stand_in"
BROUGHT_IN = "playworn_brought_in"
LEVELS = "playworn_levels"  # of a stand-in: the greys of its clean and its marked end
TWICE = "playworn_twice"  # and by what its marks are multiplied to be twice as strong
MARK = "playworn_mark"  # of a stand-in with few pixels: the width its marks had, a share of the picture's

STOOD_IN = "stand-in"
NOT_TOLD = "its name does not tell what it is for"


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


WearImages = Mapping[str, Texture]  # by the kind of picture, which is called as its layer


def is_picture(head: bytes) -> bool:
    """Whether a file that begins like this (12 bytes are enough) is one of the kinds of picture; their signatures."""
    return head.startswith(_SIGNATURES) or (head.startswith(b"RIFF") and head[8:12] == b"WEBP")


def is_image(name: str) -> bool:
    """Whether a file of this name is a picture the wear can use."""
    return PurePath(name).suffix.lower() in IMAGE_SUFFIXES


def kind_of(name: str) -> str | None:
    """What a picture seems to hold, from the words in its file name; None where no word tells."""
    return words.told(
        PurePath(name).stem, {kind: (*each.words, *each.further_words) for kind, each in PICTURES.items()}
    )


def pick(names: Iterable[str], kind: str) -> str | None:
    """The picture of a folder that serves as `kind`: of several, the first by name."""
    return next((name for name in sorted(names) if is_image(name) and kind_of(name) == kind), None)


def uses(names: Iterable[str]) -> tuple[TextureUse, ...]:
    """What becomes of each picture of a folder, and which layers go without: first the layers, then what is left."""
    pictures = sorted(name for name in names if is_image(name))
    chosen = {kind: pick(pictures, kind) for kind in PICTURES}
    served = [
        TextureUse(kind, name or STOOD_IN, "" if name else f"no file name in the folder tells of {kind}")
        for kind, name in chosen.items()
    ]
    left = [
        TextureUse("", name, f"{chosen[kind]} serves as {kind}, the first by name" if kind else NOT_TOLD)
        for name, kind in ((name, kind_of(name)) for name in pictures)
        if name not in chosen.values()
    ]
    return (*served, *left)


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
