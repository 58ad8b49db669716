"""Where presets live: those that come with the tool, and the user's own."""

import os
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from ..core import preset as presets
from ..core.errors import FileProblem, PresetProblem
from ..core.preset import Preset
from . import whole

SHIPPED = "shipped"
OWN = "own"
FOLDER_VARIABLE = "PLAYWORN_PRESETS"  # a folder that takes the place of the user's own


class Listed(NamedTuple):
    """A preset of the library as a list shows it; the note of one that cannot be used tells why."""

    name: str
    note: str
    origin: str  # SHIPPED or OWN


def shipped_folder() -> Path:
    """The folder beside the manifest, in a checkout as in the installed extension."""
    return Path(__file__).resolve().parents[2] / "presets"


def own_folder() -> Path:
    """Where the user's presets are kept; it exists once something was saved in it."""
    chosen = os.environ.get(FOLDER_VARIABLE)
    if chosen:
        return Path(chosen).expanduser()
    import bpy

    extension = (__package__ or "").rpartition(".addon.")[0]
    if extension.startswith("bl_ext."):
        return Path(bpy.utils.extension_path_user(extension, path="presets"))
    return Path(bpy.utils.user_resource("CONFIG", path="playworn/presets"))


def list_presets() -> tuple[Listed, ...]:
    """Every preset by name: the shipped ones first, then the user's."""
    return tuple(_listed(path, origin) for path, origin in _files().values())


def find_preset(name_or_path: str | Path) -> Preset:
    """The preset of that name in the library, or the one in that JSON file; raises PresetProblem or FileProblem."""
    wanted = str(name_or_path)
    files = _files()
    if wanted in files:
        return _of_library(files[wanted][0])
    if wanted.lower().endswith(".json"):
        return read(Path(wanted))
    raise PresetProblem(f'there is no preset called "{wanted}": choose one of {", ".join(files)}, or give a .json file')


def read(path: Path) -> Preset:
    """The preset in a JSON file; raises FileProblem where it cannot be read and PresetProblem where it is wrong."""
    try:
        with path.open(encoding="utf-8-sig") as file:
            text = file.read(presets.LARGEST + 1)
    except UnicodeDecodeError:
        raise PresetProblem(f"{path.name} is not UTF-8 text: save it again in that encoding") from None
    except OSError as problem:
        raise FileProblem(f'"{path}" cannot be read ({problem.strerror}): check the name and the folder') from None
    return presets.parse(text, path.name)


def save_preset(preset: Preset, name: str, folder: Path | None = None) -> Path:
    """Keeps the preset as `name` in the folder, at first the user's own, over an earlier one of that name.

    The file is complete or not there at all. Raises PresetProblem where the name or a value is not allowed, and
    FileProblem where the folder cannot be written.
    """
    presets.check_name(name)
    if name in _stems(shipped_folder()):
        raise PresetProblem(f"{name} comes with Playworn and stays as it is: choose another name")
    text = presets.dump(replace(preset, name=name))
    presets.parse(text, f"the preset {name}")
    path = (folder or own_folder()) / f"{name}.json"
    _make(path.parent)
    whole.write_text(path, text)
    return path


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise FileProblem(f'the folder "{folder}" cannot be written ({problem.strerror}): choose another') from None


def _files() -> dict[str, tuple[Path, str]]:
    own = {name: (path, OWN) for name, path in _stems(own_folder()).items()}
    shipped = {name: (path, SHIPPED) for name, path in _stems(shipped_folder()).items()}
    return {**shipped, **{name: found for name, found in own.items() if name not in shipped}}


def _stems(folder: Path) -> dict[str, Path]:
    try:
        return {path.stem: path for path in sorted(folder.glob("*.json"))}
    except OSError:
        return {}


def _listed(path: Path, origin: str) -> Listed:
    try:
        return Listed(path.stem, _of_library(path).note, origin)
    except (PresetProblem, FileProblem) as problem:
        return Listed(path.stem, f"Cannot be used: {problem}", origin)


def _of_library(path: Path) -> Preset:
    preset = read(path)
    if preset.name != path.stem:
        raise PresetProblem(f"name is {preset.name!r} in {path.name}: name the file and the preset the same")
    return preset
