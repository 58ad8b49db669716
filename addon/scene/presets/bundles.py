"""Bundles and exports on the disk: checked whole before anything is written, textures in folders of their own."""

import hashlib
import os
import shutil
from collections.abc import Mapping
from pathlib import Path

from ... import atomic
from ...core.errors import BundleProblem, FileProblem, PlaywornError, PresetProblem
from ...core.presets import bundle as bundles
from ...core.presets import preset as presets
from ...core.presets import shelf, thumbnail
from ...core.presets.bundle import Bundle
from ...core.report import TakenIn
from ...core.wear.texture import KINDS, pick
from ..wear import images
from . import library
from .shelf import EARLIER, NEW, PICTURE, TRASH

FOLDER = "bundles"  # beside the user's presets
_TEXTURES = "textures"


def textures_of(folder: Path) -> dict[str, bytes]:
    """The pictures of a folder that serve the wear, by file name; TextureProblem where there is none."""
    names = images.names(folder)
    used = sorted({name for kind in KINDS if (name := pick(names, kind))})
    return {name: _bytes(folder / name, bundles.LARGEST) for name in used}


def write(bundle: Bundle, path: Path) -> None:
    """Writes a bundle; BundleProblem where it would be none that `read` takes."""
    atomic.check_writable(path)
    atomic.write_bytes(path, bundles.pack(bundle))


def read(path: Path) -> tuple[Bundle, str]:
    """The bundle in a file, checked, and what tells it from every other."""
    data = _bytes(path, bundles.LARGEST + 1)
    return bundles.unpack(data, path.name), hashlib.sha256(data).hexdigest()[:12]


def write_all(path: Path) -> tuple[str, ...]:
    """Writes all that is the user's into one file; the places of what is nothing that goes into it."""
    folder, files, left = library.own_folder(), {}, []
    for file in sorted(folder.rglob("*")):
        place = file.relative_to(folder)
        if file.is_file() and not file.name.startswith(".") and place.parts[0] not in (EARLIER, TRASH):
            content = _bytes(file, shelf.LARGEST)
            if shelf.takes(place.as_posix(), content):
                files[place.as_posix()] = content
            else:
                left.append(place.as_posix())
    atomic.write_bytes(path, shelf.pack(files))
    return tuple(left)


def holds_all(path: Path) -> bool:
    """Whether a file is all that was somebody's, and no bundle."""
    try:
        with path.open("rb") as file:
            return shelf.is_one(file)
    except OSError as problem:
        raise _unreadable(path, problem) from None


def take_in_all(path: Path) -> tuple[TakenIn, ...]:
    """Makes every preset of such a file one of the user's own, with its picture; what became of each.

    Nothing is written over: what is there already stays. BundleProblem where anything but a preset is amiss, nothing
    of the file is taken in then.
    """
    held = shelf.unpack(_bytes(path, shelf.LARGEST + 1), path.name)
    told = [TakenIn(f"{FOLDER}/{name}", _textures(name, files)) for name, files in held.bundles.items()]
    return (*(TakenIn(name, _one(name, held, path.name)) for name in held.presets), *told)


def _one(name: str, held: shelf.Contents, where: str) -> str:
    try:
        preset = presets.parse(held.presets[name], f"{name}.json in {where}")
        if preset.name != name:
            raise PresetProblem(f"name is {preset.name!r} in {name}.json: name the file and the preset the same")
        mine = library.own()
        if mine.path(name).is_file() and mine.read(name) == preset:
            return TakenIn.THERE
        path = library.save_preset(preset, name, NEW)
        if name in held.pictures:
            atomic.write_bytes(path.with_suffix(PICTURE), held.pictures[name])
    except PlaywornError as problem:
        return str(problem)
    return TakenIn.DONE


def _textures(name: str, files: Mapping[str, bytes]) -> str:
    folder = library.own_folder() / FOLDER / name
    try:
        if folder.exists():
            _check_same(files, folder)
            return TakenIn.THERE
        _unpack(files, folder)
    except PlaywornError as problem:
        return str(problem)
    return TakenIn.DONE


def _check_same(files: Mapping[str, bytes], folder: Path) -> None:
    """BundleProblem where a folder does not hold these very files."""
    for name, content in files.items():
        place = folder / name
        if not place.is_file() or _bytes(place, len(content) + 1) != content:
            raise BundleProblem(f'the folder "{folder}" has another {name}: move it away first')


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
        _unpack(bundle.files(), folder)
    else:
        _check_same({bundles.TEXTURES + texture: content for texture, content in bundle.textures.items()}, folder)
    try:
        path = library.save_preset(bundle.preset, name, NEW)
        if bundle.thumbnail:
            picture = thumbnail.adopted(bundle.thumbnail, bundle.preset)
            atomic.write_bytes(path.with_suffix(PICTURE), picture)
    except PlaywornError:
        if is_new:
            shutil.rmtree(folder, ignore_errors=True)
        raise
    return path, folder / _TEXTURES if bundle.textures else None


def _unpack(files: Mapping[str, bytes], folder: Path) -> None:
    unfinished = folder.with_name(f".{folder.name}.{os.getpid()}.unfinished")
    try:
        for name, content in files.items():
            place = unfinished / name
            place.parent.mkdir(parents=True, exist_ok=True)
            atomic.write_bytes(place, content)
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
        raise _unreadable(path, problem) from None


def _unreadable(path: Path, problem: OSError) -> FileProblem:
    return FileProblem(f'"{path}" cannot be read ({problem.strerror}): check the name and the folder')
