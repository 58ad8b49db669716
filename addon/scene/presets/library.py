"""Where presets live: those that come with the tool, those of the studio, and the user's own.

Of several of one name the first in this order is meant, so that a name means the same to everyone who shares it.
"""

import os
from pathlib import Path
from typing import Any, cast

from ...core.errors import FileProblem, PresetProblem
from ...core.presets import preset as presets
from ...core.presets import thumbnail
from ...core.presets.catalogue import OWN, SHIPPED, STUDIO, Listed
from ...core.presets.preset import Preset
from ...core.remembered import keeping
from .shelf import PICTURE, Shelf

FOLDER_VARIABLE = "PLAYWORN_PRESETS"  # a folder that takes the place of the user's own
STUDIO_VARIABLE = "PLAYWORN_STUDIO"  # the studio's folder; it goes before the one in the preferences
STUDIO_PREFERENCE = "studio_folder"

_KEPT_BY = {SHIPPED: "comes with Playworn", STUDIO: "belongs to the studio"}


def shipped_folder() -> Path:
    """The folder beside the manifest, in a checkout as in the installed extension."""
    return Path(__file__).resolve().parents[3] / "presets"


def studio_folder() -> Path | None:
    """Where the studio keeps presets for everyone, None where it has none; nothing is ever written there."""
    chosen = os.environ.get(STUDIO_VARIABLE) or _preference(STUDIO_PREFERENCE)
    return Path(chosen).expanduser() if chosen else None


def own_folder() -> Path:
    """Where the user's presets are kept; it exists once something was saved in it."""
    chosen = os.environ.get(FOLDER_VARIABLE)
    if chosen:
        return Path(chosen).expanduser()
    import bpy

    if extension := _extension():
        return Path(bpy.utils.extension_path_user(extension, path="presets"))
    return Path(bpy.utils.user_resource("CONFIG", path="playworn/presets"))


def folders() -> dict[str, Path]:
    """The folders by origin, in the order in which a name is looked up."""
    studio = studio_folder()
    return {SHIPPED: shipped_folder(), **({STUDIO: studio} if studio else {}), OWN: own_folder()}


def own() -> Shelf:
    """The user's presets, to be saved, renamed, deleted."""
    return Shelf(own_folder())


def list_presets() -> tuple[Listed, ...]:
    """Every preset: the shipped ones by name, then the studio's, then the user's. Hidden and broken ones tell why."""
    first, listed = _files(), []
    for origin, folder in folders().items():
        for name, path in _stems(folder).items():
            one, meant = _listed(path, origin), first[name][1]
            if meant != origin:
                problem = f'another one called "{name}" {_KEPT_BY[meant]} and goes before it: rename this one'
                one = one._replace(problem=problem)
            listed.append(one)
    return tuple(listed)


def find_preset(name_or_path: str | Path) -> Preset:
    """The preset of that name in the library, or the one in that JSON file; raises PresetProblem or FileProblem."""
    wanted = str(name_or_path)
    files = _files()
    if wanted in files:
        return _of_library(files[wanted][0])
    if wanted.lower().endswith(".json"):
        return read_preset(Path(wanted))
    raise PresetProblem(f'there is no preset called "{wanted}": choose one of {", ".join(files)}, or give a .json file')


def read_preset(path: Path) -> Preset:
    """The preset in a JSON file; raises FileProblem where it cannot be read and PresetProblem where it is wrong."""
    try:
        with path.open(encoding="utf-8-sig") as file:
            text = file.read(presets.LARGEST + 1)
    except UnicodeDecodeError:
        raise PresetProblem(f"{path.name} is not UTF-8 text: save it again in that encoding") from None
    except OSError as problem:
        raise FileProblem(f'"{path}" cannot be read ({problem.strerror}): check the name and the folder') from None
    return presets.parse(text, path.name)


def save_preset(preset: Preset, name: str, replacing: bool = False) -> Path:
    """Keeps the preset as `name` among the user's own, if it is to be in the place of the one that has the name.

    The file is complete or not there at all. Raises PresetProblem where the name or a value is not allowed or another
    preset has the name, and FileProblem where the folder cannot be written.
    """
    check_free(name)
    return own().save(preset, name, replacing)


def check_free(name: str) -> None:
    """Raises PresetProblem where the user cannot call a preset so: the name is none, or one of a shared preset."""
    presets.check_name(name)
    for origin, folder in folders().items():
        if origin in _KEPT_BY and name in _stems(folder):
            raise PresetProblem(f"{name} {_KEPT_BY[origin]} and stays as it is: choose another name")


def hidden_by(name: str) -> str:
    """What the name of a preset of the user's own means in its place, as a sentence; "" where it means that one."""
    meant = _files().get(name, (None, OWN))[1]
    if meant == OWN:
        return ""
    return f'"{name}" goes on meaning the preset that {_KEPT_BY[meant]}: this was your own of that name, which it hides'


def free_name(name: str) -> str:
    """The name, or one like it that no preset has."""
    taken, free, number = {each.name for each in list_presets()}, name, 2
    while free in taken:
        free, number = f"{name[:54]}-{number}", number + 1
    return free


def has(preset: Preset) -> bool:
    """Whether the library has this very preset, whatever its note and tags."""
    try:
        there = find_preset(preset.name)
    except PresetProblem:
        return False
    return (there.fit, there.wear, there.story) == (preset.fit, preset.wear, preset.story)


def picture(listed: Listed, preset: Preset) -> Path | None:
    """The picture of a preset, beside its file; None where it has none, or one of how it looked before."""
    path = folders()[listed.origin] / f"{listed.name}{PICTURE}"
    try:
        told = _told(path, path.stat().st_mtime_ns)
    except OSError:
        return None
    return path if told in ("", thumbnail.look(preset)) else None


@keeping(256)
def _told(path: Path, _changed: int) -> str:
    return thumbnail.told(path.read_bytes())


def _extension() -> str:
    """The name of the installed extension, "" where this is a checkout."""
    extension = (__package__ or "").rpartition(".addon.")[0]
    return extension if extension.startswith("bl_ext.") else ""


def _preference(name: str) -> str:
    if not (extension := _extension()):
        return ""
    import bpy

    entry = cast(Any, bpy.context).preferences.addons.get(extension)  # by no relative import: that goes by the name
    chosen = getattr(entry.preferences, name, "") if entry else ""
    return bpy.path.abspath(chosen) if chosen else ""


def _files() -> dict[str, tuple[Path, str]]:
    """Every preset that a name means, with its origin."""
    found: dict[str, tuple[Path, str]] = {}
    for origin, folder in folders().items():
        for name, path in _stems(folder).items():
            found.setdefault(name, (path, origin))
    return found


def _stems(folder: Path) -> dict[str, Path]:
    try:
        return {path.stem: path for path in sorted(folder.glob("*.json")) if not path.name.startswith(".")}
    except OSError:
        return {}


def _listed(path: Path, origin: str) -> Listed:
    try:
        preset = _of_library(path)
    except (PresetProblem, FileProblem) as problem:
        return Listed(path.stem, "", origin, problem=str(problem))
    return Listed(path.stem, preset.note, origin, preset.tags)


def _of_library(path: Path) -> Preset:
    preset = read_preset(path)
    if preset.name != path.stem:
        raise PresetProblem(f"name is {preset.name!r} in {path.name}: name the file and the preset the same")
    return preset
