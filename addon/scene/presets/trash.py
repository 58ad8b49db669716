"""The versions of a shelf's presets that were deleted or replaced, numbered, the last one highest."""

from dataclasses import dataclass
from pathlib import Path

TRASH = "trash"
EARLIER = "earlier"  # where the version before the last one was once kept: it still comes back


@dataclass(frozen=True)
class Trash:
    """What lies in the trash of a shelf's folder."""

    shelf: Path

    def names(self) -> tuple[str, ...]:
        """Those under which a version is found."""
        numbered = (path.stem.rpartition("~") for path in self._in(TRASH))
        earlier = (path.stem for path in self._in(EARLIER))
        return tuple(sorted({*earlier, *(name for name, _, number in numbered if number.isdecimal())}))

    def versions(self, name: str) -> list[Path]:
        """All that lie there under a name, the last one last."""
        numbered = [path for path in self._in(TRASH) if path.stem.rpartition("~")[0] == name and _number(path)]
        return [path for path in self._in(EARLIER) if path.stem == name] + sorted(numbered, key=_number)

    def place(self, name: str) -> Path:
        """Where the next version under a name goes."""
        folder = self.shelf / TRASH
        folder.mkdir(exist_ok=True)
        return folder / f"{name}~{max(map(_number, self.versions(name)), default=0) + 1}.json"

    def _in(self, folder: str) -> list[Path]:
        return list((self.shelf / folder).glob("[!.]*.json"))


def _number(version: Path) -> int:
    """Of a version in the trash, from 1; 0 for what is none."""
    number = version.stem.rpartition("~")[2]
    return int(number) if number.isdecimal() else 0
