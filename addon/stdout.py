"""Standard output is for a command's answer; what Blender says on the way goes to standard error."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def kept_clean() -> Iterator[None]:
    """Sends everything written to standard output to standard error, below Python's own streams too."""
    _flush()
    stdout = os.dup(1)
    os.dup2(2, 1)
    try:
        yield
    finally:
        _flush()
        os.dup2(stdout, 1)
        os.close(stdout)


def _flush() -> None:
    sys.stdout.flush()
    # Blender writes through C, whose buffer would else be emptied later, into the answer.
    with suppress(OSError, TypeError):  # Windows has no one C library to ask
        ctypes.CDLL(None).fflush(None)
