"""Bundles and exports on the disk: checked whole before anything is written, textures in folders of their own."""

import hashlib
import os
import shutil
from collections.abc import Mapping
from pathlib import Path, PurePath

from ... import atomic
from ...core.errors import BundleProblem, FileProblem, PlaywornError, PresetProblem
from ...core.presets import bundle as bundles
from ...core.presets import parcel, thumbnail
from ...core.presets import preset as presets
from ...core.presets.bundle import Bundle, Own
from ...core.report import TakenIn
from ...core.wear.layers import PICTURES
from ...core.wear.purpose import BY_NAME, Chosen, kind_of, pick
from ..wear import images
from . import library
from .shelf import PICTURE
from .trash import EARLIER, TRASH

FOLDER = "bundles"  # beside the user's presets


def textures_of(folder: Path, chosen: Chosen = BY_NAME) -> dict[str, bytes]:
    """The pictures of a folder that serve the wear, by file name; TextureProblem where there is none.

    One that was chosen by hand goes by a name that tells what for.
    """
    names, found = images.names(folder), {}
    for kind in PICTURES:
        for name in pick(names, kind, chosen):
            told = name if kind_of(name) == kind else f"{PurePath(name).stem} {kind}{PurePath(name).suffix}"
            while told in found or (told != name and told in names):
                told = f"{PurePath(told).stem} {kind}{PurePath(told).suffix}"
            found[told] = atomic.read_bytes(folder / name, bundles.LARGEST_TEXTURE)
    return dict(sorted(found.items()))


def write(bundle: Bundle, path: Path) -> None:
    """Writes a bundle; BundleProblem where it would be none that `read` takes."""
    atomic.check_writable(path)
    atomic.write_bytes(path, bundles.pack(bundle))


def write_own(path: Path) -> tuple[str, ...]:
    """Writes all that is the user's into one file; the places of what is nothing that goes into it."""
    folder, files, left = library.own_folder(), {}, []
    for file in sorted(folder.rglob("*")):
        place = file.relative_to(folder)
        if file.is_file() and not file.name.startswith(".") and place.parts[0] not in (EARLIER, TRASH):
            content = atomic.read_bytes(file, bundles.LARGEST_TEXTURE + 1)
            if bundles.belongs(place.as_posix(), content):
                files[place.as_posix()] = content
            else:
                left.append(place.as_posix())
    atomic.write_bytes(path, bundles.pack_own(files))
    return tuple(left)


def read(path: Path) -> tuple[Bundle | Own, str]:
    """What is in a file, checked, and what tells it from every other."""
    data = atomic.read_bytes(path, parcel.LARGEST + 1)
    return bundles.unpack(data, path.name), hashlib.sha256(data).hexdigest()[:12]


def take_in_own(own: Own, where: str) -> tuple[TakenIn, ...]:
    """Makes every preset of somebody's own one of the user's own, with its picture; what became of each.

    Nothing is written over: what is there already stays.
    """
    names = [place.removesuffix(".json") for place in own.presets if place.endswith(".json")]
    told = [TakenIn(place, _textures(place, files)) for place, files in own.along.items()]
    return (*(TakenIn(name, _one(name, own.presets, where)) for name in names), *told)


def _one(name: str, files: Mapping[str, bytes], where: str) -> str:
    try:
        preset = presets.parse(parcel.text(files[f"{name}.json"], name, where), f"{name}.json in {where}")
        if preset.name != name:
            raise PresetProblem(f"name is {preset.name!r} in {name}.json: name the file and the preset the same")
        mine = library.own()
        if mine.path(name).is_file() and mine.read(name) == preset:
            return TakenIn.THERE
        _save(preset, name, files.get(name + PICTURE, b""))
    except PlaywornError as problem:
        return str(problem)
    return TakenIn.DONE


def _textures(place: str, files: Mapping[str, bytes]) -> str:
    try:
        return TakenIn.DONE if _put(files, library.own_folder() / place) else TakenIn.THERE
    except PlaywornError as problem:
        return str(problem)


def take_in(bundle: Bundle, mark: str, name: str) -> tuple[Path, Path | None]:
    """Makes the bundle's preset one of the user's own, called `name`: its file, and the folder with the textures.

    The textures stay where they are when the preset is renamed or deleted, builds that wear them need them there. All
    of it is taken in or nothing: PresetProblem where the name is another preset's, FileProblem where the folder cannot
    be written.
    """
    library.check_free(name)
    folder = library.own_folder() / FOLDER / f"{bundle.preset.name}-{mark}"
    is_new = _put(bundle.files(), folder)
    try:
        picture = thumbnail.adopted(bundle.thumbnail, bundle.preset) if bundle.thumbnail else b""
        path = _save(bundle.preset, name, picture)
    except PlaywornError:
        if is_new:
            shutil.rmtree(folder, ignore_errors=True)
        raise
    return path, folder / bundles.TEXTURES if bundle.textures else None


def _save(preset: presets.Preset, name: str, picture: bytes) -> Path:
    path = library.save_preset(preset, name)
    if picture:
        atomic.write_bytes(path.with_suffix(PICTURE), picture)
    return path


def _put(files: Mapping[str, bytes], folder: Path) -> bool:
    """Puts files into a folder of their own, all or none; whether it is new, else it has to hold the same textures."""
    if folder.exists():
        for place in (place for place in files if place.startswith(bundles.TEXTURES)):
            there = folder / place
            if not there.is_file() or atomic.read_bytes(there, len(files[place]) + 1) != files[place]:
                raise BundleProblem(f'the folder "{folder}" has another {place}: move it away first')
        return False
    unfinished = atomic.beside(folder)
    atomic.sweep_stale(folder.parent)
    try:
        for place, content in files.items():
            (unfinished / place).parent.mkdir(parents=True, exist_ok=True)
            atomic.write_bytes(unfinished / place, content)
        os.rename(unfinished, folder)
    except OSError as problem:
        raise FileProblem(
            f'the folder "{folder.parent}" cannot be written ({problem.strerror}): choose one with room'
        ) from None
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return True
