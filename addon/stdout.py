"""Standard output is for a command's answer; what Blender says on the way is dropped.

Its errors are not, but for those that a sentence of ours replaces.
"""

import ctypes
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, redirect_stderr, redirect_stdout

STDOUT, STDERR = 1, 2


def kept_clean() -> AbstractContextManager[None]:
    """Drops everything written to standard output, below Python's own streams too; standard error stays as it is."""
    return _dropped(STDOUT, redirect_stdout)


def errors_dropped() -> AbstractContextManager[None]:
    """Drops what is written to standard error, where the caller tells in its own words what goes wrong."""
    return _dropped(STDERR, redirect_stderr)


@contextmanager
def _dropped(stream: int, redirect: Callable) -> Iterator[None]:
    _flush()
    try:
        kept = os.dup(stream)
    except OSError:  # a window without a console has no such stream
        yield
        return
    try:
        with open(os.devnull, "w", encoding="utf-8") as nowhere, redirect(nowhere):
            os.dup2(nowhere.fileno(), stream)
            yield
    finally:
        _flush()
        os.dup2(kept, stream)
        os.close(kept)


def _flush() -> None:
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    # Blender writes through C, whose buffer would else be emptied later, into the answer.
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).fflush(None)
