"""What the tool needs to know about a texture: what it seems to be, which greys mean clean, whether it tiles."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath
from re import findall
from typing import Any

import numpy as np

SCRATCHES = "scratches"
SMUDGES = "smudges"
DUST = "dust"
KINDS = (SCRATCHES, SMUDGES, DUST)

IMAGE_SUFFIXES = frozenset({".png", ".tif", ".tiff", ".exr", ".jpg", ".jpeg", ".webp"})

# Stamps on images: what the tool brought in itself, it also takes away again.
STAND_IN = "playworn_stand_in"
BROUGHT_IN = "playworn_brought_in"

SEAM_SHOWS_ABOVE = 2.0  # seam metric of a texture whose edges an eye finds; 1 is seamless

_STEMS = {
    SCRATCHES: ("scratch", "hairline", "scuff", "scrape"),
    SMUDGES: ("smudge", "smear", "finger", "print", "grease", "stain", "wipe"),
    DUST: ("dust", "speck", "lint", "fluff"),
}


@dataclass(frozen=True)
class Levels:
    """Which grey of a texture means an untouched surface and which the strongest mark; either may be the brighter."""

    clean: float = 0.0
    marked: float = 1.0


@dataclass(frozen=True)
class WearImages:
    """The pictures (Blender images, read as data) that drive the wear, and how their greys are to be read."""

    scratches: Any
    smudges: Any
    dust: Any
    scratch_levels: Levels = Levels()
    smudge_levels: Levels = Levels()
    dust_levels: Levels = Levels()


@dataclass(frozen=True)
class TextureFacts:
    """What is known of one picture in the user's folder."""

    file: str
    width_px: int
    height_px: int
    bits: int  # per channel: 8, 16 (integer) or 32 (floating point; half floats too)
    kind: str  # scratches, smudges, dust or other, from the name
    seam: float  # 1 tiles unseen, see `seam`
    warning: str  # empty where there is none


def is_image(name: str) -> bool:
    """Whether a file of this name is a picture the wear can use."""
    return PurePath(name).suffix.lower() in IMAGE_SUFFIXES


def kind_of(name: str) -> str | None:
    """What a picture seems to hold, from the words in its file name; None where no word tells.

    The last telling word wins: in "fingerprint_scratches" the noun stands last.
    """
    words = findall(r"[a-z]+", _split_humps(PurePath(name).stem).lower())
    told = [kind for word in words for kind, stems in _STEMS.items() if any(stem in word for stem in stems)]
    return told[-1] if told else None


def pick(names: Iterable[str], kind: str) -> str | None:
    """The picture of a folder that serves as `kind`: of several, the first by name."""
    return next((name for name in sorted(names) if is_image(name) and kind_of(name) == kind), None)


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
    inside = float(np.abs(np.diff(grey, axis=0)).mean())
    across = float(np.abs(grey[0] - grey[-1]).mean())
    return across / inside if inside > 0.0 else 1.0


def _split_humps(text: str) -> str:
    return "".join(f" {letter}" if letter.isupper() else letter for letter in text) if not text.isupper() else text
