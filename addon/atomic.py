"""Files that are there whole or not at all: written beside their place under another name, then moved onto it."""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .core.errors import FileProblem

_UNFINISHED = ".unfinished"


@contextmanager
def written(path: Path, new: bool = False) -> Iterator[Path]:
    """Gives the name to write to; what was written there takes its place when the body ends well.

    Raises FileProblem where the place cannot be written, or where a `new` file is there already; whatever was there
    before is still there then.
    """
    unfinished = path.absolute().with_name(f".{path.stem}.{os.getpid()}{_UNFINISHED}{path.suffix}")
    try:
        yield unfinished
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        if new:
            move_new(unfinished, path)
        else:
            os.replace(unfinished, path)
    except (OSError, RuntimeError) as problem:  # Blender raises the latter
        reason = getattr(problem, "strerror", None) or " ".join(str(problem).removeprefix("Error: ").split())
        raise FileProblem(
            f'"{path}" cannot be written ({reason}): choose a folder with room that you may write to'
        ) from None
    finally:
        _remove(unfinished)


def read_bytes(path: Path, most: int) -> bytes:
    """At most so many bytes of a file; FileProblem where it cannot be read."""
    try:
        with path.open("rb") as file:
            return file.read(most)
    except OSError as problem:
        raise FileProblem(f'"{path}" cannot be read ({problem.strerror}): check the name and the folder') from None


def read_text(path: Path, most: int) -> str:
    """At most so many bytes of a UTF-8 text file; FileProblem where it is none."""
    try:
        return read_bytes(path, most).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileProblem(f'"{path}" is not UTF-8 text: save it again in that encoding') from None


def write_text(path: Path, text: str, new: bool = False) -> None:
    """Writes a text file, the same bytes on every system."""
    write_bytes(path, text.encode("utf-8"), new)


def write_bytes(path: Path, content: bytes, new: bool = False) -> None:
    """Writes a file."""
    with written(path, new) as unfinished:
        unfinished.write_bytes(content)


def move_new(old: Path, new: Path) -> None:
    """Moves a file to a name that nothing has yet; FileExistsError where something has it after all."""
    try:
        os.link(old, new)  # unlike a move it never takes another's place
    except FileExistsError:
        raise
    except OSError:  # no hard links here
        if new.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
        os.replace(old, new)
    else:
        os.unlink(old)


def sweep(folder: Path) -> None:
    """Takes away what writers that were killed left in a folder; nobody may be writing there."""
    for path in folder.glob(f".*{_UNFINISHED}*"):
        _remove(path)


def check_writable(path: Path) -> None:
    """FileProblem where a file could not be put at `path`; asked before long work, not after it."""
    folder = path.absolute().parent
    if not folder.is_dir():
        raise FileProblem(f'there is no folder "{folder}": make it first')
    if path.is_dir():
        raise FileProblem(f'"{path}" is a folder: name a file in it')
    if not os.access(folder, os.W_OK):
        raise FileProblem(f'the folder "{folder}" cannot be written: choose another')


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError:
        return  # its folder was never there or cannot be written: nothing was left in it
