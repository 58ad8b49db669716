"""Joins pictures into one sheet: rows of equal pictures side by side, a thin line between them."""

from collections.abc import Sequence
from pathlib import Path

import bpy
import numpy as np

from .. import atomic
from ..blender import pixels_of
from ..scene.pictures import shown

DIVIDER = (0.93, 0.93, 0.93, 1.0)  # as displayed
SHARE = 200  # the line is one part in so many of a picture's width


def join(rows: Sequence[Sequence[Path]], path: Path) -> None:
    """Writes one PNG with rows of 8-bit pictures of one size; no pixel is resampled. FileProblem if it cannot."""
    pictures = [[shown(picture) for picture in row] for row in rows]
    line = max(2, pictures[0][0].shape[1] // SHARE)
    _write(_stack([_stack(row, line, axis=1) for row in pictures][::-1], line, axis=0), path)


def _stack(parts: list[np.ndarray], line: int, axis: int) -> np.ndarray:
    shape = list(parts[0].shape)
    shape[axis] = line
    divider = np.broadcast_to(np.array(DIVIDER, np.float32), shape)
    joined = [parts[0]]
    for part in parts[1:]:
        joined += [divider, part]
    return np.concatenate(joined, axis=axis)


def _write(values: np.ndarray, path: Path) -> None:
    image = bpy.data.images.new(path.stem, values.shape[1], values.shape[0])
    try:
        pixels_of(image).foreach_set(np.ascontiguousarray(values, np.float32).ravel())
        image.file_format = "PNG"
        with atomic.written(path) as unfinished:
            image.filepath_raw = str(unfinished)
            image.save()
    finally:
        bpy.data.images.remove(image)
