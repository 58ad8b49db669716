"""Words as pixels, in Blender's own letters, which know the alphabets that its interface does."""

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import blf
import imbuf
import numpy as np

from .. import pictures

_FONT = 0  # the interface's
_SIZE, _LINE = 14, 20  # px


def lines(words: Sequence[str], wide: int) -> np.ndarray:
    """How much of each pixel (rows, wide) letters cover, the uppermost row first; what is longer than that goes on in
    the next line."""
    blf.size(_FONT, _SIZE)
    told = [part for line in words for part in _broken(line, wide)]
    buffer = imbuf.new((wide, _LINE * len(told) + _LINE // 2))
    blf.color(_FONT, 1.0, 1.0, 1.0, 1.0)
    drawing: Any = blf.bind_imbuf(_FONT, buffer)
    with drawing:
        for number, part in enumerate(told):
            blf.position(_FONT, 0, buffer.size[1] - _LINE * (number + 1), 0)
            blf.draw_buffer(_FONT, part)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "words.png"
        imbuf.write(buffer, filepath=str(path))
        return pictures.shown(path)[::-1, :, 3]


def _broken(line: str, wide: int) -> Iterator[str]:
    """A line in parts that are no wider, broken between words, or within one that alone is too long."""
    while line and blf.dimensions(_FONT, line)[0] > wide:
        fits = next(count for count in range(len(line), 0, -1) if blf.dimensions(_FONT, line[:count])[0] <= wide)
        end = line.rfind(" ", 1, fits + 1)
        end = end if end > 0 else fits
        yield line[:end]
        line = line[end:].lstrip()
    yield line
