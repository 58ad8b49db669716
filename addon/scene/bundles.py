"""Bundles on the disk: read whole and checked before anything is written, unpacked to a folder of their own."""

import hashlib
import os
import shutil
from pathlib import Path

from ..core import bundle as bundles
from ..core import thumbnail
from ..core.bundle import Bundle
from ..core.errors import FileProblem, PlaywornError
from ..core.texture import KINDS, pick
from . import images, library, whole
from .shelf import NEW, PICTURE

FOLDER = "bundles"  # beside the user's presets
_TEXTURES = "textures"


def textures_of(folder: Path) -> dict[str, bytes]:
    """The pictures of a folder that serve the wear, by file name; TextureProblem where there is none."""
    names = images.names(folder)
    used = sorted({name for kind in KINDS if (name := pick(names, kind))})
    return {name: _bytes(folder / name, bundles.LARGEST_BUNDLE) for name in used}


def write(bundle: Bundle, path: Path) -> None:
    """Writes a bundle; BundleProblem where it would be none that `read` takes."""
    whole.check_writable(path)
    whole.write_bytes(path, bundles.pack(bundle))


def read(path: Path) -> tuple[Bundle, str]:
    """The bundle in a file, checked, and what tells it from every other."""
    data = _bytes(path, bundles.LARGEST_BUNDLE + 1)
    return bundles.unpack(data, path.name), hashlib.sha256(data).hexdigest()[:12]


def take_in(bundle: Bundle, mark: str, name: str) -> tuple[Path, Path | None]:
    """Makes the bundle's preset one of the user's own, called `name`: its file, and the folder with the textures.

    The textures stay where they are when the preset is renamed or deleted, builds that wear them need them there. All
    of it is taken in or nothing: PresetProblem where the name is another preset's, FileProblem where the folder cannot
    be written.
    """
    library.check_free(name)
    library.own().check_new(name)
    folder = library.own_folder() / FOLDER / f"{bundle.preset.name}-{mark}"
    is_new = not folder.exists()
    if is_new:
        _unpack(bundle, folder)
    try:
        path = library.save_preset(bundle.preset, name, NEW)
        if bundle.thumbnail:
            picture = thumbnail.adopted(bundle.thumbnail, bundle.preset)
            whole.write_bytes(path.with_suffix(PICTURE), picture)
    except PlaywornError:
        if is_new:
            shutil.rmtree(folder, ignore_errors=True)
        raise
    return path, folder / _TEXTURES if bundle.textures else None


def _unpack(bundle: Bundle, folder: Path) -> None:
    unfinished = folder.with_name(f".{folder.name}.{os.getpid()}.unfinished")
    try:
        for name, content in bundle.files().items():
            place = unfinished / name
            place.parent.mkdir(parents=True, exist_ok=True)
            whole.write_bytes(place, content)
        os.rename(unfinished, folder)
    except OSError as problem:
        raise FileProblem(
            f'the folder "{folder.parent}" cannot be written ({problem.strerror}): choose one with room'
        ) from None
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)


def _bytes(path: Path, most: int) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(most)
    except OSError as problem:
        raise FileProblem(f'"{path}" cannot be read ({problem.strerror}): check the name and the folder') from None
