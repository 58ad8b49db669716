"""The user's pictures, measured one by one; the open file stays as it was."""

from collections.abc import Generator, Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path

import bpy

from ...core.errors import TextureProblem
from ...core.remembered import keeping
from ...core.slices import sliced, telling, whole
from ...core.wear import findings
from ...core.wear.findings import Findings
from ...core.wear.purpose import BY_NAME, Chosen, kind_of
from ...core.wear.texture import LAYER
from .. import pictures
from . import images

Sizes = tuple[tuple[str, float], ...]


def survey(folder: Path, sizes_mm: Mapping[str, float], chosen: Chosen = BY_NAME) -> tuple[Findings, ...]:
    """What each picture of a folder is, by file name. Raises TextureProblem where there is no folder or no picture.

    sizes_mm: the real width of one repeat for each kind. chosen: what pictures are for by hand.
    """
    return whole(surveying(folder, sizes_mm, chosen))


def surveying(
    folder: Path, sizes_mm: Mapping[str, float], chosen: Chosen = BY_NAME
) -> Generator[tuple[float, str], None, tuple[Findings, ...]]:
    """The same in parts, each of which says how far it is and what is looked at."""
    found, names = [], images.names(folder)
    for number, name in enumerate(names):
        parts = _looking_at(folder / name, tuple(sizes_mm.items()), chosen.get(name, ""))
        found.append((yield from telling((number / len(names), f"measuring {name}"), parts)))
    return tuple(found)


def _looking_at(path: Path, sizes_mm: Sizes, choice: str) -> Generator[None, None, Findings]:
    state = path.stat()
    known = _known(path, sizes_mm, choice, (state.st_mtime_ns, state.st_size))
    if not known:
        yield
        known.append((yield from _measuring(path, sizes_mm, {path.name: choice} if choice else BY_NAME)))
    return known[0]


@keeping(256)
def _known(_path: Path, _sizes_mm: Sizes, _choice: str, _state: tuple[int, int]) -> list[Findings]:
    """Where that of a picture is kept until its file changes."""
    return []


def _measuring(path: Path, sizes_mm: Sizes, chosen: Chosen) -> Generator[None, None, Findings]:
    try:
        image = images.read(path, kind_of(path.name, chosen) or "")
    except TextureProblem:
        return findings.unreadable(path.name, chosen, _fault(path))
    try:
        yield
        layer = image[LAYER].partition(" ")[2] if LAYER in image else ""
        read = yield from images.reading_pixels(image)
        bits = (32 if path.suffix.lower() == ".exr" else 16) if image.is_float else 8
    finally:
        bpy.data.images.remove(image)
    return (yield from sliced(partial(_found, path.name, read, bits, dict(sizes_mm), chosen, layer)))


def _found(
    name: str, read: images.Pixels, bits: int, sizes_mm: dict[str, float], chosen: Chosen, layer: str
) -> Findings:
    aside = findings.Aside.of(read.grey, read.colours, read.alpha, layer)
    return findings.findings(name, read.grey, bits, aside, sizes_mm, chosen)


def _fault(path: Path) -> str:
    """What is seen to be wrong with a picture, "" where that is nothing more than that it cannot be read."""
    with suppress(OSError):
        return pictures.fault(path) or ""
    return ""
