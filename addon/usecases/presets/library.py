"""The user's presets: kept, called otherwise, copied, deleted and brought back."""

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from ... import atomic
from ...core.errors import BuildProblem, PresetProblem
from ...core.presets.bundle import NO_LICENCE, Bundle
from ...core.presets.catalogue import OWN
from ...core.presets.preset import Preset
from ...core.report import TakenIn
from ...scene.build.state import State
from ...scene.presets import bundles, elsewhere, library
from ...scene.presets.shelf import PICTURE


class Taken(NamedTuple):
    """A look taken over from another file."""

    build: str
    look: State
    name: str  # of the preset in the library
    file: Path | None  # where it was saved; None where the library had it


def fingerprint(name: str) -> str:
    """Tells one content of a preset of the user's own from another; "" where there is none of that name."""
    return library.own().fingerprint(name)


def own_preset(name: str) -> Preset:
    """The preset of the user's own of that name; PresetProblem where there is none."""
    return library.own().read(name)


def rename_preset(old: str, new: str) -> Path:
    """Calls a preset of the user's own otherwise."""
    library.check_free(new)
    return library.own().rename(old, new)


def duplicate_preset(name: str, new: str) -> Path:
    """Copies any preset of the library to a new one of the user's own."""
    path = library.save_preset(library.find_preset(name), new)
    if picture := _picture(name):
        atomic.write_bytes(path.with_suffix(PICTURE), picture)
    return path


def _picture(name: str) -> bytes:
    """The picture of the preset that a name means, nothing where it has none."""
    shown = next((each for each in library.list_presets() if each.name == name and not each.problem), None)
    path = library.picture(shown, library.find_preset(name)) if shown else None
    return path.read_bytes() if path else b""


def keep_picture(name: str, picture: bytes) -> Path:
    """Puts a picture beside a preset of the user's own; PresetProblem where it shows another look."""
    return library.own().keep_picture(name, picture)


def describe_preset(name: str, note: str, tags: tuple[str, ...]) -> Path:
    """Gives a preset of the user's own another note and other tags."""
    shelf, known = library.own(), fingerprint(name)
    return shelf.save(replace(shelf.read(name), note=note, tags=tags), name, known)


def delete_preset(name: str) -> None:
    """Moves a preset of the user's own to the trash."""
    library.own().delete(name)


def restore_preset(name: str) -> Path:
    """Brings a deleted preset back from the trash."""
    library.check_free(name)
    return library.own().restore(name)


def revert_preset(name: str) -> Path:
    """Brings the version of a preset back that the last one replaced; once more brings the last one back."""
    return library.own().revert(name)


def export_presets(path: Path) -> tuple[int, tuple[str, ...]]:
    """Writes the user's presets with all that belongs to them into one zip; how many, and which files it leaves out.

    Raises PresetProblem where there are none.
    """
    count = sum(each.origin == OWN for each in library.list_presets())
    if not count:
        raise PresetProblem("you have no preset of your own yet: save one first")
    atomic.check_writable(path)
    return count, bundles.write_all(path)


def holds_all(path: Path) -> bool:
    """Whether a file is what `export_presets` wrote: `import_all` takes it."""
    return path.suffix.lower() == ".zip" and bundles.holds_all(path)


def import_all(path: Path) -> tuple[TakenIn, ...]:
    """Makes every preset of such a file one of the user's own; what became of each, and of the textures."""
    return bundles.take_in_all(path)


def bundle_preset(name: str, path: Path, textures: Path | None = None, licence: str = NO_LICENCE) -> Bundle:
    """Writes a preset, those of a folder's pictures that it would use, and its picture into one file to send away."""
    atomic.check_writable(path)
    pictures = bundles.textures_of(textures) if textures else {}
    bundle = Bundle(library.find_preset(name), pictures, _picture(name), licence)
    bundles.write(bundle, path)
    return bundle


def import_preset(path: Path, name: str = "") -> tuple[Preset, Path, Path | None]:
    """Makes the preset of a file, .json or a bundle, one of the user's own, called `name` if there is one.

    Returns it, its file, and the folder with the textures that came along. Nothing is written where anything is amiss.
    """
    if path.suffix.lower() == ".zip":
        bundle, mark = bundles.read(path)
        name = name or bundle.preset.name
        file, textures = bundles.take_in(bundle, mark, name)
    else:
        preset = library.read_preset(path)
        name, textures = name or preset.name, None
        file = library.save_preset(preset, name)
    return library.read_preset(file), file, textures


def take_look(path: Path, build: str = "", name: str = "") -> Taken:
    """Makes the preset on a build of a .blend that is not open one of the library, called `name` if there is one.

    Without a name it keeps its own, or gets one like it where that is another preset's. Nothing is saved where the
    library has it. Raises BuildProblem where the file holds no such build, or several and none is named.
    """
    found = elsewhere.applied(path)
    if build and build not in found:
        known = ", ".join(f'"{each}"' for each in found) or "none"
        raise BuildProblem(f'{path.name} holds no build called "{build}" with a look on it: choose one of {known}')
    if not found:
        raise BuildProblem(f"{path.name} holds no build with a look on it: choose a file that has been applied to")
    if not build and len(found) > 1:
        raise BuildProblem(f"{path.name} holds several looks: name one of the builds {', '.join(found)}")
    build = build or next(iter(found))
    look = found[build]
    if not name and _has(look.preset):
        return Taken(build, look, look.preset.name, None)
    name = name or library.free_name(look.preset.name)
    return Taken(build, look, name, library.save_preset(look.preset, name))


def _has(preset: Preset) -> bool:
    """Whether the library has this very preset, whatever its note and tags."""
    try:
        there = library.find_preset(preset.name)
    except PresetProblem:
        return False
    return (there.fit, there.wear) == (preset.fit, preset.wear)
