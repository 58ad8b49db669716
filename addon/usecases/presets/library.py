"""The user's presets: kept, called otherwise, deleted and brought back, sent away and taken in."""

from pathlib import Path
from typing import NamedTuple

from ... import atomic
from ...core.errors import BuildProblem, PresetProblem
from ...core.presets.bundle import NO_LICENCE, Bundle, Own
from ...core.presets.catalogue import OWN
from ...core.presets.preset import Preset
from ...core.report import TakenIn
from ...core.wear.purpose import BY_NAME, Chosen
from ...scene.build.state import State
from ...scene.presets import bundles, elsewhere, library


class Imported(NamedTuple):
    """What a file brought: one preset with the folder of its textures, or several, each with what became of it."""

    preset: Preset | None
    file: Path | None
    textures: Path | None = None
    several: tuple[TakenIn, ...] = ()


class Taken(NamedTuple):
    """A look taken over from another file."""

    build: str
    look: State
    name: str  # of the preset in the library
    file: Path | None  # where it was saved; None where the library had it


def own_preset(name: str) -> Preset:
    """The preset of the user's own of that name; PresetProblem where there is none."""
    return library.own().read(name)


def keep_picture(name: str, picture: bytes) -> Path:
    """Puts a picture beside a preset of the user's own; PresetProblem where it shows another look."""
    return library.own().keep_picture(name, picture)


def edit_preset(name: str, new: str, note: str, tags: tuple[str, ...]) -> Path:
    """Gives a preset of the user's own another name, note and tags."""
    if new != name:
        library.check_free(new)
    return library.own().edit(name, new, note, tags)


def hidden_by(name: str) -> str:
    """Why a name means another preset than the user's own that has it, as a sentence; "" where it does not."""
    return library.hidden_by(name)


def delete_preset(name: str) -> None:
    """Moves a preset of the user's own to the trash."""
    library.own().delete(name)


def restore_preset(name: str) -> Path:
    """Brings the version of a preset back that was deleted or replaced last; once more brings the other one back."""
    library.check_free(name)
    return library.own().restore(name)


def presets_in_trash() -> tuple[str, ...]:
    """The names under which `restore_preset` finds something."""
    return library.own().trash.names()


def export_presets(path: Path) -> tuple[int, tuple[str, ...]]:
    """Writes the user's presets with all that belongs to them into one zip; how many, and which files it leaves out.

    Raises PresetProblem where there are none.
    """
    count = sum(each.origin == OWN for each in library.list_presets())
    if not count:
        raise PresetProblem("you have no preset of your own yet: save one first")
    atomic.check_writable(path)
    return count, bundles.write_own(path)


def bundle_preset(
    name: str, path: Path, textures: Path | None = None, licence: str = NO_LICENCE, chosen: Chosen = BY_NAME
) -> Bundle:
    """Writes a preset, those of a folder's pictures that it would use, and its picture into one file to send away."""
    atomic.check_writable(path)
    pictures = bundles.textures_of(textures, chosen) if textures else {}
    bundle = Bundle(library.find_preset(name), pictures, _picture(name), licence)
    bundles.write(bundle, path)
    return bundle


def _picture(name: str) -> bytes:
    """The picture of the preset that a name means, nothing where it has none."""
    shown = next((each for each in library.list_presets() if each.name == name and not each.problem), None)
    path = library.picture(shown, library.find_preset(name)) if shown else None
    return path.read_bytes() if path else b""


def import_presets(path: Path, name: str = "") -> Imported:
    """Makes the preset of a file, .json or a bundle, one of the user's own, called `name` if there is one.

    Where the file is what `export_presets` wrote, all that is in it. Nothing is written where anything is amiss with
    the file, and nothing over what is there.
    """
    if path.suffix.lower() != ".zip":
        preset, textures = library.read_preset(path), None
        file = library.save_preset(preset, name or preset.name)
        return Imported(library.read_preset(file), file)
    held, mark = bundles.read(path)
    if isinstance(held, Own):
        if name:
            raise PresetProblem(f"{path.name} holds several presets, which keep their names: give none")
        return Imported(None, None, None, bundles.take_in_own(held, path.name))
    file, textures = bundles.take_in(held, mark, name or held.preset.name)
    return Imported(library.read_preset(file), file, textures)


def take_look(path: Path, build: str = "", name: str = "") -> Taken:
    """Makes the preset on a build of a .blend that is not open one of the library, called `name` if there is one.

    Without a name it keeps its own, or gets one like it where that is another preset's. Nothing is saved where the
    library has it. Raises BuildProblem where the file holds no such build, or several and none is named.
    """
    found = elsewhere.applied(path)
    known = ", ".join(f'"{each}"' for each in found) or "none"
    if not found or (build and build not in found):
        called = build and f' called "{build}"'
        raise BuildProblem(f'"{path.name}" holds no build{called} with a look on it: it has {known}')
    if not build and len(found) > 1:
        raise BuildProblem(f'"{path.name}" holds several looks: name one of the builds {known}')
    build = build or next(iter(found))
    preset = found[build].preset
    if not name and library.has(preset):
        return Taken(build, found[build], preset.name, None)
    name = name or library.free_name(preset.name)
    return Taken(build, found[build], name, library.save_preset(preset, name))
