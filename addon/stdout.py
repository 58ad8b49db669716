"""Standard output is for a command's answer; what Blender says on the way goes to standard error."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout

STDOUT, STDERR = 1, 2


@contextmanager
def kept_clean() -> Iterator[None]:
    """Sends everything written to standard output to standard error, below Python's own streams too."""
    _flush()
    try:
        kept = os.dup(STDOUT)
        os.dup2(STDERR, STDOUT)
    except OSError:  # a window without a console has no such streams
        yield
        return
    try:
        with redirect_stdout(sys.stderr):
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
