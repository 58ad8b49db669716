"""Textures for users who bring none: seamless hairline scratches, finger smudges and dust, drawn from a seed.

All are height-like greys in 0..1, row 0 on top. Sizes are real: they hold when the texture repeats every *_SIZE_MM.
Widths, lengths, directions and the ridge spacing are common practice, no published source.
"""

import numpy as np

from .fingers import SMUDGES_SIZE_MM, smudges
from .hairlines import SCRATCHES_SIZE_MM, scratches
from .specks import DUST_SIZE_MM, dust

_AFAR = 4  # pixels a side that become one: a renderer that finds a picture in its cache looks it up in half the time

__all__ = [
    "DUST_SIZE_MM",
    "SCRATCHES_SIZE_MM",
    "SMUDGES_SIZE_MM",
    "dust",
    "scratches",
    "seen_from_afar",
    "smudges",
]


def seen_from_afar(grey: np.ndarray) -> np.ndarray:
    """The texture with a sixteenth of the pixels, each the mean of sixteen: of the same strength on the whole."""
    rows, columns = grey.shape
    return grey.reshape(rows // _AFAR, _AFAR, columns // _AFAR, _AFAR).mean(axis=(1, 3))
