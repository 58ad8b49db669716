"""Standard output is for a command's answer; what Blender says on the way is dropped, its errors excepted."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout

STDOUT = 1


@contextmanager
def kept_clean() -> Iterator[None]:
    """Drops everything written to standard output, below Python's own streams too; standard error stays as it is."""
    _flush()
    try:
        kept = os.dup(STDOUT)
    except OSError:  # a window without a console has no such stream
        yield
        return
    try:
        with open(os.devnull, "w", encoding="utf-8") as nowhere, redirect_stdout(nowhere):
            os.dup2(nowhere.fileno(), STDOUT)
            yield
    finally:
        _flush()
        os.dup2(kept, STDOUT)
        os.close(kept)


def _flush() -> None:
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    # Blender writes through C, whose buffer would else be emptied later, into the answer.
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).fflush(None)
