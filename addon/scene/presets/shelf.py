"""A folder of presets that may be written: nothing in it is lost, whoever else writes there and whenever it ends.

Every version that was deleted or replaced goes to its trash.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from ... import atomic
from ...core.errors import FileProblem, PresetProblem
from ...core.presets import preset as presets
from ...core.presets import thumbnail
from ...core.presets.preset import Preset
from .lock import locked
from .trash import TRASH, Trash

PICTURE = ".png"  # a preset's picture is called as its file


@dataclass(frozen=True)
class Shelf:
    """Presets in a folder, which comes into being with the first that is saved."""

    folder: Path

    @property
    def trash(self) -> Trash:
        return Trash(self.folder)

    def path(self, name: str) -> Path:
        return self.folder / f"{name}.json"

    def read(self, name: str) -> Preset:
        """The preset of that name; PresetProblem where there is none or it is wrong."""
        try:
            return presets.parse(self._there(name).read_text("utf-8-sig"), f"{name}.json")
        except UnicodeDecodeError:
            raise PresetProblem(f"{name}.json is not UTF-8 text: save it again in that encoding") from None

    def save(self, preset: Preset, name: str, replacing: bool = False) -> Path:
        """Keeps the preset as `name`; PresetProblem where another has that name and is not to be replaced."""
        text = _text(preset, name)
        self._make()
        with self._ours():
            self._write(name, text, replacing)
        return self.path(name)

    def edit(self, name: str, new: str, note: str, tags: tuple[str, ...]) -> Path:
        """Gives a preset another name, note and tags; at no moment is it in neither place."""
        with self._ours():
            text = _text(replace(self.read(name), note=note, tags=tags), new)
            self._write(new, text, replacing=new == name)
            if new != name:
                _move(self.path(name).with_suffix(PICTURE), self.path(new).with_suffix(PICTURE))
                os.unlink(self.path(name))
        return self.path(new)

    def delete(self, name: str) -> None:
        """Moves a preset to the trash, from where `restore` brings it back."""
        with self._ours():
            path, place = self._there(name), self.trash.place(name)
            os.replace(path, place)
            _move(path.with_suffix(PICTURE), place.with_suffix(PICTURE))

    def restore(self, name: str) -> Path:
        """Brings back what was deleted or replaced last under a name; what has the name goes to the trash for it."""
        with self._ours():
            path, versions = self.path(name), self.trash.versions(name)
            if not versions:
                known = ", ".join(self.trash.names()) or "none, the trash is empty"
                raise PresetProblem(f'no preset called "{name}" was deleted or replaced: choose one of {known}')
            back = versions[-1]
            picture = back.with_suffix(PICTURE)
            if path.is_file():
                kept = self._keep(name)
                if picture.is_file():
                    _move(path.with_suffix(PICTURE), kept.with_suffix(PICTURE))
                os.replace(back, path)
            else:
                atomic.move_new(back, path)
            _move(picture, path.with_suffix(PICTURE))
        return path

    def keep_picture(self, name: str, picture: bytes) -> Path:
        """Puts a picture beside the preset that it shows; PresetProblem where that is another by now."""
        path = self.path(name).with_suffix(PICTURE)
        with self._ours():
            if not thumbnail.shows(picture, self.read(name)):
                raise PresetProblem(f'"{name}" was changed while its picture was made: make it again')
            atomic.write_bytes(path, picture)
        return path

    @contextmanager
    def _ours(self) -> Iterator[None]:
        """The folder, locked; what a killed Blender left unfinished in it is taken away."""
        if not self.folder.is_dir():
            raise PresetProblem("you have no preset of your own yet: save one first")
        with locked(self.folder):
            for folder in (self.folder, self.folder / TRASH):
                atomic.sweep(folder)
            try:
                yield
            except OSError as problem:
                raise _unwritable(self.folder, problem) from None

    def _make(self) -> None:
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise _unwritable(self.folder, problem) from None

    def _write(self, name: str, text: str, replacing: bool) -> None:
        is_there = self.path(name).is_file()
        if is_there and not replacing:
            raise PresetProblem(f'you have a preset called "{name}" already: replace that one, or choose another name')
        if is_there:
            self._keep(name)
        atomic.write_text(self.path(name), text, new=not is_there)

    def _keep(self, name: str) -> Path:
        """A copy in the trash of the version that is about to be replaced."""
        place = self.trash.place(name)
        atomic.write_bytes(place, self.path(name).read_bytes())
        return place

    def _there(self, name: str) -> Path:
        if Path(name).name != name or not os.path.isfile(self.path(name)):
            raise PresetProblem(f'there is no preset of your own called "{name}": choose one that is')
        return self.path(name)


def _move(old: Path, new: Path) -> None:
    if old.is_file():
        os.replace(old, new)


def _text(preset: Preset, name: str) -> str:
    """The preset as it stands in the file; PresetProblem where the name or a value is not allowed."""
    presets.check_name(name)
    text = presets.dump(replace(preset, name=name))
    presets.parse(text, f"the preset {name}")
    return text


def _unwritable(folder: Path, problem: OSError) -> FileProblem:
    return FileProblem(
        f'the folder "{folder}" cannot be written ({problem.strerror}): choose one with room that you may write to'
    )
