"""Blender's importers talk on standard output, which belongs to whoever called us: their words go to standard error."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout

STDOUT, STDERR = 1, 2


@contextmanager
def quiet() -> Iterator[None]:
    """Send whatever Python or Blender itself prints meanwhile to standard error."""
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


def _flush():
    """Empty the buffers of Python and of the C library, or their words come out after the streams are put back."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).fflush(None)
