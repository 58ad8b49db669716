"""The pictures behind the wear: found in the user's folder, or drawn as stand-ins and packed into the file."""

import os
import tempfile
from pathlib import Path

import bpy
import numpy as np

from ..core import png, standin
from ..core.errors import TextureProblem
from ..core.texture import (
    BROUGHT_IN,
    DUST,
    KINDS,
    SCRATCHES,
    SEAM_SHOWS_ABOVE,
    SMUDGES,
    STAND_IN,
    Levels,
    TextureFacts,
    WearImages,
    is_image,
    kind_of,
    levels,
    pick,
    seam,
)


def find(folder: Path | None) -> WearImages:
    """The pictures for the wear: of the folder by their file names, a stand-in for each kind it lacks (or without one).

    Raises TextureProblem if the folder is missing, holds no picture, or a picture it needs cannot be read.
    """
    names = _pictures(folder) if folder else []
    chosen = {kind: pick(names, kind) for kind in KINDS}
    found = {kind: _load(folder / name) if folder and name else _stand_in(kind) for kind, name in chosen.items()}
    return WearImages(
        scratches=found[SCRATCHES],
        smudges=found[SMUDGES],
        dust=found[DUST],
        scratch_levels=_levels(found[SCRATCHES]),
        smudge_levels=_levels(found[SMUDGES]),
        dust_levels=_levels(found[DUST]),
    )


def survey(folder: Path) -> list[TextureFacts]:
    """What each picture of a folder is, by file name; the file at hand stays as it was. Raises TextureProblem."""
    return [_facts(folder / name) for name in _pictures(folder)]


def _pictures(folder: Path) -> list[str]:
    if not folder.is_dir():
        raise TextureProblem(f'the textures folder "{folder}" does not exist: choose one that does')
    try:
        names = sorted(entry.name for entry in folder.iterdir() if entry.is_file() and is_image(entry.name))
    except OSError as error:
        raise TextureProblem(
            f'the textures folder "{folder}" cannot be read ({error.strerror}): choose another'
        ) from error
    if not names:
        raise TextureProblem(
            f'the textures folder "{folder}" holds no PNG, TIFF, EXR, JPEG or WebP picture: choose another'
        )
    return names


def _load(path: Path) -> bpy.types.Image:
    """The picture as data, once a file: one that is already there is used if it is read as data too."""
    for image in bpy.data.images:
        if image.colorspace_settings.is_data and not image.library and _is_file(image, path):
            return image
    image = _read(path)
    image[BROUGHT_IN] = True
    if bpy.data.filepath:
        image.filepath_raw = _relative(path)
    return image


def _read(path: Path) -> bpy.types.Image:
    try:
        image = bpy.data.images.load(str(path.resolve()), check_existing=False)
    except RuntimeError as error:
        raise TextureProblem(f'the picture "{path}" cannot be opened: check that the file may be read') from error
    if not image.size[0] or not image.size[1]:
        bpy.data.images.remove(image)
        raise TextureProblem(f'the picture "{path}" is broken or no picture: take it out of the folder')
    _read_as_data(image)
    return image


def _read_as_data(image: bpy.types.Image) -> None:
    try:
        image.colorspace_settings.name = "Non-Color"
    except TypeError:  # a studio's colour configuration may call it something else
        image.colorspace_settings.is_data = True


def _is_file(image: bpy.types.Image, path: Path) -> bool:
    return image.source == "FILE" and bool(image.filepath) and Path(bpy.path.abspath(image.filepath)) == path.resolve()


def _relative(path: Path) -> str:
    try:
        return bpy.path.relpath(str(path.resolve()))
    except ValueError:  # another drive has no relative path
        return str(path.resolve())


def _stand_in(kind: str) -> bpy.types.Image:
    for image in bpy.data.images:
        if image.get(STAND_IN) == kind and not image.library:
            return image
    handle, name = tempfile.mkstemp(suffix=".png")
    with os.fdopen(handle, "wb") as file:
        file.write(png.encode(standin.stand_in(kind)))
    try:
        image = _read(Path(name))
        image.pack()
    finally:
        os.unlink(name)
    image.name = f"Playworn {kind}"
    image.filepath_raw = f"//Playworn {kind}.png"  # the plain property would look for the file at once
    image[STAND_IN] = kind
    return image


def _levels(image: bpy.types.Image) -> Levels:
    return levels(_grey(image))


def _grey(image: bpy.types.Image) -> np.ndarray:
    """Luminance (rows, columns) as shaders turn a picture's colour into a number: Rec. 709 weights."""
    width, height = image.size
    pixels = np.empty(width * height * image.channels, np.float32)
    image.pixels.foreach_get(pixels)
    channels = pixels.reshape(height, width, image.channels)
    if image.channels < 3:
        return channels[..., 0]
    return channels[..., :3] @ np.array((0.2126, 0.7152, 0.0722), np.float32)


def _facts(path: Path) -> TextureFacts:
    kind = kind_of(path.name) or "other"
    try:
        image = _read(path)
    except TextureProblem:
        return TextureFacts(path.name, 0, 0, 0, kind, 0.0, "cannot be read")
    try:
        bits = (32 if path.suffix.lower() == ".exr" else 16) if image.is_float else 8
        join = seam(_grey(image))
        width, height = image.size
    finally:
        bpy.data.images.remove(image)
    return TextureFacts(path.name, width, height, bits, kind, round(join, 2), _warning(kind, bits, join))


def _warning(kind: str, bits: int, join: float) -> str:
    warnings = []
    if kind == SCRATCHES and bits == 8:
        warnings.append("8 bits make shallow scratches come out in steps")
    if join > SEAM_SHOWS_ABOVE:
        warnings.append("its edges do not meet, the repeat will show")
    return "; ".join(warnings)
