"""The user's pictures, measured one by one; the open file stays as it was."""

from collections.abc import Mapping
from pathlib import Path

import bpy
import numpy as np

from ...core.errors import TextureProblem
from ...core.remembered import keeping
from ...core.wear import findings
from ...core.wear.findings import Findings
from . import images


def survey(folder: Path, sizes_mm: Mapping[str, float]) -> tuple[Findings, ...]:
    """What each picture of a folder is, by file name. Raises TextureProblem where there is no folder or no picture.

    sizes_mm: the real width of one repeat for each kind.
    """
    return tuple(_of(folder / name, tuple(sizes_mm.items())) for name in images.names(folder))


def _of(path: Path, sizes_mm: tuple[tuple[str, float], ...]) -> Findings:
    state = path.stat()
    return _measured(path, sizes_mm, (state.st_mtime_ns, state.st_size))


@keeping(256)
def _measured(path: Path, sizes_mm: tuple[tuple[str, float], ...], _state: tuple[int, int]) -> Findings:
    """Kept until the file changes."""
    try:
        image = images.read(path)
    except TextureProblem:
        return findings.unreadable(path.name)
    try:
        grey, colours = images.pixels(image)
        bits = (32 if path.suffix.lower() == ".exr" else 16) if image.is_float else 8
    finally:
        bpy.data.images.remove(image)
    coloured = 0.0 if colours is None else float(np.ptp(colours, axis=2).mean())
    return findings.findings(path.name, grey, bits, coloured, dict(sizes_mm))
