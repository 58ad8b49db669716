"""Files that are there whole or not at all: written beside their place under another name, then moved onto it."""

import errno
import os
import platform
import re
import shutil
import time
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from .core.errors import FileProblem

_UNFINISHED = ".unfinished"
# A name that a writer of ours gives: machine and process; earlier versions told the process alone.
_WRITER = re.compile(rf"\.(?:([0-9a-f]{{8}})-)?(\d+){re.escape(_UNFINISHED)}(?:\.[^.]*)?$")
_LONGEST = 120  # bytes of a name's beginning; systems take 255 in all
_FORGOTTEN_S = 86_400.0  # so long ago no one wrote what someone still writes


@contextmanager
def written(path: Path, new: bool = False) -> Iterator[Path]:
    """Gives the name to write to; what was written there takes its place when the body ends well.

    Of a link what it points at is written, and the link stays. Raises FileProblem where the place cannot be written,
    or where a `new` file is there already; whatever was there before is still there then.
    """
    target = _target(path)
    unfinished = beside(target)
    sweep_stale(target.parent)
    try:
        yield unfinished
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        if new:
            move_new(unfinished, target)
        else:
            with suppress(OSError):  # nothing there yet, or a folder that knows no rights
                shutil.copymode(target, unfinished)
            os.replace(unfinished, target)
    except (OSError, RuntimeError) as problem:  # Blender raises the latter
        raise FileProblem(
            f'"{path}" cannot be written ({_reason(problem, target.parent)}): '
            "choose a folder with room that you may write to"
        ) from None
    finally:
        _remove(unfinished)


def beside(target: Path) -> Path:
    """What a file or folder is called until it is whole: its name, the machine and the process."""
    stem = target.stem.encode("utf-8", "surrogateescape")[:_LONGEST].decode("utf-8", "ignore")
    return target.with_name(f".{stem}.{_machine()}-{os.getpid()}{_UNFINISHED}{target.suffix[:20]}")


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
    for path, _, _ in _unfinished(folder):
        _remove(path)


def sweep_stale(folder: Path) -> None:
    """Takes away what writers that were killed left in a folder where others may be writing."""
    with suppress(OSError):
        for path, machine, process in _unfinished(folder):
            if _is_stale(path, machine, process):
                _remove(path)


def _unfinished(folder: Path) -> Iterator[tuple[Path, str, int]]:
    """What writers of ours write there or have left, and nobody else: with their machine and process."""
    for path in folder.glob(f".*{_UNFINISHED}*"):
        if writer := _WRITER.search(path.name):
            yield path, writer[1] or "", int(writer[2])


def check_writable(path: Path) -> None:
    """FileProblem where a file could not be put at `path`; asked before long work, not after it."""
    target = _target(path)
    folder = target.parent
    if not os.path.isdir(folder):
        raise FileProblem(f'there is no folder "{folder}": make it first')
    if os.path.isdir(target):
        raise FileProblem(f'"{path}" is a folder: name a file in it')
    try:
        os.lstat(target)
    except FileNotFoundError:
        pass
    except OSError as problem:
        raise FileProblem(f'"{path}" cannot be written ({problem.strerror}): choose another name') from None
    if not os.access(folder, os.W_OK):
        raise FileProblem(f'the folder "{folder}" cannot be written: choose another')
    if os.path.exists(target) and not os.access(target, os.W_OK):
        raise FileProblem(f'"{path}" may not be written over: choose another name, or allow it')


def _target(path: Path) -> Path:
    """Where a file comes to lie; FileProblem where something else than a file or a folder is there."""
    target = Path(os.path.realpath(path)) if os.path.islink(path) else path.absolute()
    if os.path.islink(target):
        raise FileProblem(f'"{path}" is a link that leads to itself: choose another name')
    if os.path.exists(target) and not os.path.isfile(target) and not os.path.isdir(target):
        raise FileProblem(f'"{path}" is a device or a pipe: name a file')
    return target


def _reason(problem: Exception, folder: Path) -> str:
    """Why a file could not be written. Blender says "No such file" of its own half of one, where there is no room."""
    said = getattr(problem, "strerror", None) or " ".join(str(problem).removeprefix("Error: ").split())
    if said != os.strerror(errno.ENOENT) or not os.path.isdir(folder):
        return said
    return f"not all of it could be, {shutil.disk_usage(folder).free / 1e6:.0f} MB are free there"


def _machine() -> str:
    """Tells apart where process numbers mean the same: by the machine, and by the container in it."""
    try:
        within = os.readlink("/proc/self/ns/pid")
    except OSError:
        within = ""
    return f"{zlib.crc32(f'{platform.node()} {within}'.encode()):08x}"


def _is_stale(path: Path, machine: str, process: int) -> bool:
    """Whether who writes it has ended: a process of this machine that is no more, or any of long ago."""
    if machine == _machine() and not _runs(process):
        return True
    return time.time() - path.lstat().st_mtime > _FORGOTTEN_S


def _runs(process: int) -> bool:
    """Whether there may be such a process; on Windows, where asking would end it, there always may."""
    if os.name == "nt":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:  # another's
        return True
    return True


def _remove(path: Path) -> None:
    try:
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
    except OSError:
        return  # its folder was never there or cannot be written: nothing was left in it
