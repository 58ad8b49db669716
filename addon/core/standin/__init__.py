"""Textures for users who bring none: seamless hairline scratches, finger smudges and dust, drawn from a seed.

All are height-like greys in 0..1, row 0 on top. Sizes are real: they hold when the texture repeats every *_SIZE_MM.
Widths, lengths, directions and the ridge spacing are common practice, no published source.
"""

import numpy as np

from ..texture import DUST, SCRATCHES, SMUDGES
from .fingers import SMUDGES_SIZE_MM, smudges
from .hairlines import SCRATCHES_SIZE_MM, scratches
from .specks import DUST_SIZE_MM, dust

__all__ = ["DUST_SIZE_MM", "SCRATCHES_SIZE_MM", "SMUDGES_SIZE_MM", "dust", "scratches", "smudges", "stand_in"]


def stand_in(kind: str, seed: int = 0) -> np.ndarray:
    """The texture of a kind as a square float array; the same seed always gives the same picture."""
    return {SCRATCHES: scratches, SMUDGES: smudges, DUST: dust}[kind](seed)
