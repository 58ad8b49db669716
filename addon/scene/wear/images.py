"""The pictures behind the wear: found in the user's folder, or drawn as stand-ins and packed into the file."""

import os
import tempfile
from collections.abc import Generator, Iterable
from dataclasses import replace
from functools import partial
from hashlib import blake2b
from pathlib import Path
from typing import Any, NamedTuple

import bpy
import numpy as np

from ... import raw
from ...blender import choose
from ...core import threads
from ...core.errors import TextureProblem
from ...core.pictures import png
from ...core.remembered import keeping
from ...core.slices import sliced, whole
from ...core.wear import marks, standin
from ...core.wear.layers import PICTURES
from ...core.wear.purpose import BY_NAME, Chosen, kind_of, pick
from ...core.wear.strength import equalised, twice
from ...core.wear.texture import (
    BROUGHT_IN,
    LAYER,
    LEVELS,
    MARK,
    STAND_IN,
    TWICE,
    Levels,
    Texture,
    WearImages,
    is_image,
    levels,
)
from ...stdout import errors_dropped, kept_clean
from .. import pictures


def find(folder: Path | None, fine: bool = True, chosen: Chosen = BY_NAME) -> WearImages:
    """The pictures for the wear: of the folder as chosen or by their file names, a stand-in for each kind it lacks (or
    without one).

    Stand-ins have all their pixels where `fine` is set, else as many as show from afar.
    Raises TextureProblem if the folder is missing, holds no picture, or a picture it needs cannot be read.
    """
    return whole(finding(folder, fine, chosen))


def finding(folder: Path | None, fine: bool = True, chosen: Chosen = BY_NAME) -> Generator[None, None, WearImages]:
    """The same in parts."""
    there = names(folder) if folder else []
    found: dict[str, dict[str, bpy.types.Image]] = {kind: {} for kind in PICTURES}
    for kind, loaded in found.items():
        for name in pick(there, kind, chosen):
            assert folder is not None
            loaded[name] = _load(folder / name, kind)
            yield
    drawn = yield from _stand_ins([kind for kind in PICTURES if not found[kind]], fine)
    textures = {}
    for kind in PICTURES:
        several = {}
        for name, image in (found[kind] or {"": drawn[kind]}).items():
            several[name] = Texture(image, (yield from _levels(image, kind)))
            yield
        first = next(iter(several.values()))
        textures[kind] = replace(first, all_by_name=several) if len(several) > 1 else first
    return textures


def names(folder: Path) -> list[str]:
    """The file names of a folder's pictures, sorted. Raises TextureProblem where there is no folder or no picture."""
    if not os.path.isdir(folder):
        raise TextureProblem(f'the textures folder "{folder}" does not exist: choose one that does')
    try:
        found = sorted(entry.name for entry in folder.iterdir() if entry.is_file() and is_image(entry.name))
    except OSError as error:
        raise TextureProblem(
            f'the textures folder "{folder}" cannot be read ({error.strerror}): choose another'
        ) from error
    if not found:
        raise TextureProblem(
            f'the textures folder "{folder}" holds no PNG, TIFF, EXR, JPEG or WebP picture: choose another'
        )
    return found


def pixels(image: bpy.types.Image) -> tuple[np.ndarray, np.ndarray | None]:
    """The greys (rows, columns) of a picture, rows upwards, by Rec. 709 weights; its colours too where it has any."""
    read = whole(reading_pixels(image))
    return read.grey, read.colours


class Pixels(NamedTuple):
    """What a picture holds, rows upwards."""

    grey: np.ndarray  # (rows, columns), by Rec. 709 weights
    colours: np.ndarray | None  # (rows, columns, 3), where it has any
    alpha: np.ndarray | None  # (rows, columns), where not all is opaque


def reading_pixels(image: bpy.types.Image) -> Generator[None, None, Pixels]:
    """The same in parts, with what is not opaque."""
    values = pictures.values(image)
    yield
    return (yield from sliced(partial(_greys, values)))


def _greys(channels: np.ndarray) -> Pixels:
    finite = np.isfinite(channels)
    if not finite.all():  # holes in a measured height
        channels[~finite] = np.median(channels[finite]) if finite.any() else 0.0
    alpha = channels[..., 3] if channels.shape[2] > 3 and channels[..., 3].min() < 1.0 else None
    if channels.shape[2] < 3 or not np.ptp(channels[..., :3], axis=2).any():
        return Pixels(channels[..., 0], None, alpha)
    return Pixels(channels[..., :3] @ np.array((0.2126, 0.7152, 0.0722), np.float32), channels[..., :3], alpha)


def missing(pictures: Iterable[bpy.types.Image]) -> tuple[str, ...]:
    """The file names of those pictures whose files are gone and that are not packed, sorted."""
    return tuple(sorted({path.name for path in map(_path, filter(_is_outside, pictures)) if not path.is_file()}))


def _is_outside(image: bpy.types.Image) -> bool:
    return image.source == "FILE" and not image.packed_file


def _path(image: bpy.types.Image) -> Path:
    return Path(bpy.path.abspath(image.filepath, library=image.library))


def _load(path: Path, kind: str) -> bpy.types.Image:
    """The picture as data, once a file: one that is already there is used if it is read as data too."""
    for image in bpy.data.images:
        if image.colorspace_settings.is_data and not image.library and _is_file(image, path):
            return image
    image = read(path, kind)
    for there in bpy.data.images:
        if LAYER in image and not there.library and there != image and there.get(LAYER) == image[LAYER]:
            bpy.data.images.remove(image)
            return there
    image[BROUGHT_IN] = True
    if bpy.data.filepath and LAYER not in image:
        image.filepath_raw = _relative(path)
    return image


def read(path: Path, kind: str = "") -> bpy.types.Image:
    """A picture, read anew and as data; of several layers the one whose name tells of a kind, else the first, packed.

    Raises TextureProblem where the file is none or cannot be opened.
    """
    try:
        fault = pictures.fault(path)
        if fault:
            raise TextureProblem(f'the picture "{path}" {fault}: take it out of the folder, or save it again')
        alone = pictures.alone(path, lambda name: kind_of(f"{name}{path.suffix}") == kind) if fault == "" else None
        image = _layer(path, *alone) if alone else _loaded(path) if fault is not None else None
    except (OSError, RuntimeError) as error:
        raise TextureProblem(f'the picture "{path}" cannot be opened: check that the file may be read') from error
    if image is None:
        raise TextureProblem(f'the picture "{path}" is broken or no picture: take it out of the folder')
    return image


def _layer(path: Path, content: bytes, told: str) -> bpy.types.Image | None:
    """A layer of a picture, packed: Blender's image textures look for none in a file."""
    image = _within(content, path.suffix)
    if image is not None:
        image.name, image.filepath_raw = path.name, f"//{path.stem} alone{path.suffix}"
        image[LAYER] = f"{blake2b(content, digest_size=16).hexdigest()} {told}"
    return image


def _within(content: bytes, suffix: str) -> bpy.types.Image | None:
    """A picture that lies in the file; None where Blender makes nothing of it."""
    handle, path = tempfile.mkstemp(suffix=suffix)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
    try:
        image = _loaded(Path(path))
        if image is not None:
            image.pack()
        return image
    finally:
        os.unlink(path)


def _loaded(path: Path) -> bpy.types.Image | None:
    """The picture as data, None where Blender makes nothing of it; what Blender says of it, our sentences replace."""
    with kept_clean(), errors_dropped():
        image = bpy.data.images.load(str(path.resolve()), check_existing=False)
        _read_as_data(image)
        if image.size[0] and image.size[1]:  # asking for it decodes the file
            return image
        bpy.data.images.remove(image)
        return None


def _read_as_data(image: bpy.types.Image) -> None:
    try:
        choose(image.colorspace_settings, name="Non-Color")
    except TypeError:  # a studio's colour configuration may call it something else
        image.colorspace_settings.is_data = True


def _is_file(image: bpy.types.Image, path: Path) -> bool:
    return image.source == "FILE" and bool(image.filepath) and _path(image) == path.resolve()


def _relative(path: Path) -> str:
    try:
        return bpy.path.relpath(str(path.resolve()))
    except ValueError:  # another drive has no relative path
        return str(path.resolve())


@keeping(2 * len(PICTURES), of_session=True)
def _drawn(kind: str, fine: bool) -> tuple[bytes, dict[str, Any]]:
    """The PNG file of a stand-in and its stamps, drawn once a session."""
    grey = PICTURES[kind].stand_in()
    read_as = levels(grey)
    shown = grey if fine else standin.seen_from_afar(grey)
    stamps = {STAND_IN: kind, LEVELS: (read_as.clean, read_as.marked), TWICE: (twice(read_as.marks(shown)),)}
    if not fine:
        stamps[MARK] = marks.width_px(read_as.marks(grey)) / grey.shape[1]
    # Cycles gets pictures of 16 bits as four floats a pixel: only depths, seen from close by, are worth it.
    return png.encode(shown, 16 if fine and PICTURES[kind].is_height else 8), stamps


def _stand_ins(kinds: list[str], fine: bool) -> Generator[None, None, dict[str, bpy.types.Image]]:
    found = {}
    for image in bpy.data.images:
        if (kind := image.get(STAND_IN)) in kinds and (MARK in image) != fine and not image.library:
            found.setdefault(kind, image)
    missing = [kind for kind in kinds if kind not in found]
    drawn = yield from sliced(lambda: list(threads.each(partial(_drawn, fine=fine), missing, enough=2)))
    for kind, each in zip(missing, drawn, strict=True):
        found[kind] = _packed(kind, fine, *each)
        yield
    return found


def _packed(kind: str, fine: bool, content: bytes, stamps: dict[str, Any]) -> bpy.types.Image:
    """A stand-in as a picture that lies in the file."""
    image = _within(content, ".png")
    assert image is not None
    image.name = name = f"Playworn {kind}" if fine else f"Playworn {kind} from afar"
    image.filepath_raw = f"//{name}.png"  # the plain property would look for the file at once
    for stamp, value in stamps.items():
        image[stamp] = value
    return image


def _levels(image: bpy.types.Image, kind: str) -> Generator[None, None, Levels]:
    """How to read a picture: as strong as the stand-in of its kind."""
    kept = raw.numbers(image, LEVELS, 2)
    if kept is not None and kept[0] != kept[1]:
        return Levels(*kept, *(raw.numbers(image, TWICE, 1) or ()))
    known = _known(_content(image), kind)
    if not known:
        read = yield from reading_pixels(image)
        known.append((yield from sliced(partial(_measured, read.grey, read.colours, kind))))
    return known[0]


def _content(image: bpy.types.Image) -> tuple[Any, ...]:
    """What tells what a picture shows: all of a stand-in, which any file may hold, else which it is and how its file
    is."""
    if image.get(STAND_IN) and image.packed_file and not image.is_dirty:
        return (blake2b(image.packed_file.data).digest(),)
    path = _path(image)
    state = (path.stat().st_mtime_ns, path.stat().st_size) if _is_outside(image) and path.is_file() else ()
    return image.session_uid, *state


@keeping(64, of_session=True)
def _known(_content: tuple[Any, ...], _kind: str) -> list[Levels]:
    """Where those of a picture are kept until its file changes: a turned preset would else read millions of pixels
    anew."""
    return []


def _measured(grey: np.ndarray, colours: np.ndarray | None, kind: str) -> Levels:
    read = levels(grey)
    if colours is not None:  # the shader weighs the channels by which end is clean
        grey = colours @ np.array(read.weights, np.float32)
        read = levels(grey)
    return equalised(read, grey, kind)
