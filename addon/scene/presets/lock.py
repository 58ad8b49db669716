"""One Blender at a time in a folder: the system lets go of the lock when a process ends, however it ends."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from ...core.errors import FileProblem

_NAME = ".lock"
_PATIENCE_S, _PAUSE_S = 10.0, 0.01


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Keeps other Playworns out of the folder for as long as the body takes.

    Raises FileProblem where the folder cannot be written or another keeps it for ten seconds.
    """
    try:
        file = (folder / _NAME).open("a+b")
    except OSError as problem:
        raise FileProblem(f'the folder "{folder}" cannot be written ({problem.strerror}): choose another') from None
    with file:
        _wait(file, folder)
        try:
            yield
        finally:
            _unlock(file)


def _wait(file: IO[bytes], folder: Path) -> None:
    until = time.monotonic() + _PATIENCE_S
    while not _lock(file):
        if time.monotonic() > until:
            raise FileProblem(f'another Blender is writing in "{folder}": try again once it has finished')
        time.sleep(_PAUSE_S)


if os.name == "nt":
    import msvcrt

    def _lock(file: IO[bytes]) -> bool:
        file.seek(0)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(file: IO[bytes]) -> None:
        file.seek(0)
        with suppress(OSError):  # closing the file lets go as well
            msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import errno
    import fcntl

    _TAKEN = (errno.EACCES, errno.EAGAIN)

    def _lock(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as problem:
            return problem.errno not in _TAKEN  # some network folders know no locks: new names are still exclusive
        return True

    def _unlock(file: IO[bytes]) -> None:
        with suppress(OSError):
            fcntl.flock(file, fcntl.LOCK_UN)
