"""A folder of presets that may be written: nothing in it is lost, whoever else writes there and whenever it ends.

Beside the presets it keeps `earlier`, the version of each before the last one, and `trash`, what was deleted.
"""

import hashlib
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

NEW = ""  # the fingerprint of a preset that is not there
EARLIER, TRASH = "earlier", "trash"
PICTURE = ".png"  # a preset's picture is called as its file


@dataclass(frozen=True)
class Shelf:
    """Presets in a folder, which comes into being with the first that is saved."""

    folder: Path

    def path(self, name: str) -> Path:
        return self.folder / f"{name}.json"

    def fingerprint(self, name: str) -> str:
        """Tells one content of a preset's file from another; NEW where there is none."""
        try:
            return hashlib.sha256(self.path(name).read_bytes()).hexdigest()
        except FileNotFoundError:
            return NEW
        except OSError as problem:
            raise _unreadable(self.path(name), problem) from None

    def save(self, preset: Preset, name: str, replacing: str = NEW) -> Path:
        """Keeps the preset as `name`, in the place of the one whose fingerprint is `replacing`.

        Raises PresetProblem where another one has that name, be it that it was changed in the meantime.
        """
        text = _text(preset, name)
        self._make()
        with self._ours():
            self._check(name, replacing)
            if replacing != NEW:
                self._keep_earlier(name)
            atomic.write_text(self.path(name), text, new=replacing == NEW)
        return self.path(name)

    def rename(self, old: str, new: str) -> Path:
        """Calls a preset otherwise; at no moment is it in neither place."""
        with self._ours():
            text = _text(self.read(old), new)
            self._check(new, NEW)
            atomic.write_text(self.path(new), text, new=True)
            self._move(self.path(old).with_suffix(PICTURE), self.path(new).with_suffix(PICTURE))
            os.unlink(self.path(old))
        return self.path(new)

    def delete(self, name: str) -> None:
        """Moves a preset to the trash, from where `restore` brings it back."""
        with self._ours():
            if not self.path(name).is_file() or Path(name).name != name:
                raise _not_there(name)
            self._to_trash(name)

    def restore(self, name: str) -> Path:
        """Brings the preset of that name back that was deleted last."""
        with self._ours():
            deleted = self._deleted(name)
            if not deleted:
                raise PresetProblem(f'no preset called "{name}" was deleted: choose one of {self._all_deleted()}')
            self._check(name, NEW)
            picture = deleted[-1].with_suffix(PICTURE)
            atomic.move_new(deleted[-1], self.path(name))
            self._move(picture, self.path(name).with_suffix(PICTURE))
        return self.path(name)

    def revert(self, name: str) -> Path:
        """Brings the version back that the last one replaced, and keeps the last one in its place."""
        with self._ours():
            earlier = self.folder / EARLIER / f"{name}.json"
            if Path(name).name != name or not earlier.is_file():
                raise PresetProblem(f'there is no earlier version of "{name}": it was saved once, or not at all')
            text = earlier.read_bytes()
            if self.path(name).is_file():
                self._keep_earlier(name)
            atomic.write_bytes(self.path(name), text)
        return self.path(name)

    def keep_picture(self, name: str, picture: bytes) -> Path:
        """Puts a picture beside the preset that it shows; PresetProblem where that is another by now."""
        with self._ours():
            if not thumbnail.shows(picture, self.read(name)):
                raise PresetProblem(f'"{name}" was changed while its picture was made: make it again')
            atomic.write_bytes(self.path(name).with_suffix(PICTURE), picture)
        return self.path(name).with_suffix(PICTURE)

    def deleted(self) -> tuple[str, ...]:
        """The names of what is in the trash, the last deleted first."""
        found = sorted((self.folder / TRASH).glob("*.json"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
        return tuple(dict.fromkeys(path.stem.rpartition("~")[0] for path in found))

    @contextmanager
    def _ours(self) -> Iterator[None]:
        """The folder, locked; what a killed Blender left unfinished in it is taken away."""
        if not self.folder.is_dir():
            raise PresetProblem("you have no preset of your own yet: save one first")
        with locked(self.folder):
            for folder in (self.folder, self.folder / EARLIER):
                atomic.sweep(folder)
            try:
                yield
            except OSError as problem:
                raise FileProblem(
                    f'the folder "{self.folder}" cannot be written ({problem.strerror}): '
                    "choose a folder with room that you may write to"
                ) from None

    def _make(self) -> None:
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise FileProblem(
                f'the folder "{self.folder}" cannot be written ({problem.strerror}): choose another'
            ) from None

    def check_new(self, name: str) -> None:
        """Raises PresetProblem where a preset has the name."""
        self._check(name, NEW)

    def _check(self, name: str, replacing: str) -> None:
        there = self.fingerprint(name)
        if there == replacing:
            return
        if replacing == NEW:
            raise PresetProblem(f'you have a preset called "{name}" already: replace that one, or choose another name')
        if there == NEW:
            raise PresetProblem(f'"{name}" is no longer there, it was deleted or renamed: save it under a new name')
        raise PresetProblem(
            f'"{name}" was changed by another Blender in the meantime: look at it first, or save under another name'
        )

    def read(self, name: str) -> Preset:
        """The preset of that name; PresetProblem where there is none or it is wrong."""
        if Path(name).name != name:
            raise _not_there(name)
        try:
            return presets.parse(self.path(name).read_text("utf-8-sig"), f"{name}.json")
        except FileNotFoundError:
            raise _not_there(name) from None
        except UnicodeDecodeError:
            raise PresetProblem(f"{name}.json is not UTF-8 text: save it again in that encoding") from None

    def _keep_earlier(self, name: str) -> None:
        (self.folder / EARLIER).mkdir(exist_ok=True)
        atomic.write_bytes(self.folder / EARLIER / f"{name}.json", self.path(name).read_bytes())

    def _to_trash(self, name: str) -> None:
        folder = self.folder / TRASH
        folder.mkdir(exist_ok=True)
        numbers = [int(path.stem.rpartition("~")[2]) for path in self._deleted(name)]
        place = folder / f"{name}~{max(numbers, default=0) + 1}.json"
        os.utime(self.path(name))  # when it was deleted
        os.replace(self.path(name), place)
        self._move(self.path(name).with_suffix(PICTURE), place.with_suffix(PICTURE))

    def _deleted(self, name: str) -> list[Path]:
        """What is in the trash under a name, the last deleted last."""
        found = [path for path in (self.folder / TRASH).glob("*.json") if path.stem.rpartition("~")[0] == name]
        numbered = [path for path in found if path.stem.rpartition("~")[2].isdecimal()]
        return sorted(numbered, key=lambda path: int(path.stem.rpartition("~")[2]))

    def _all_deleted(self) -> str:
        return ", ".join(self.deleted()) or "none, the trash is empty"

    def _move(self, old: Path, new: Path) -> None:
        if old.is_file():
            os.replace(old, new)


def _text(preset: Preset, name: str) -> str:
    """The preset as it stands in the file; PresetProblem where the name or a value is not allowed."""
    presets.check_name(name)
    text = presets.dump(replace(preset, name=name))
    presets.parse(text, f"the preset {name}")
    return text


def _not_there(name: str) -> PresetProblem:
    return PresetProblem(f'there is no preset of your own called "{name}": choose one that is')


def _unreadable(path: Path, problem: OSError) -> FileProblem:
    return FileProblem(f'"{path}" cannot be read ({problem.strerror}): check the name and the folder')
