"""Standard output is for a command's answer; what Blender says on the way is dropped.

Its errors are not, but for those that a sentence of ours replaces.
"""

import codecs
import ctypes
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, redirect_stderr, redirect_stdout, suppress

STDOUT, STDERR = 1, 2
_PLAIN = {"°": " deg", "×": "x", "µ": "u", "Δ": "d", "²": "2", "…": "..."}
_PLAINLY = "playworn.plainly"


def ready() -> None:
    """Makes the standard streams take any letter, and lead nowhere where they are closed: else a file that is opened
    would get the number of one of them, and Blender would write its talk into it."""
    while (free := os.open(os.devnull, os.O_RDWR)) <= STDERR:
        os.set_inheritable(free, True)
    os.close(free)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115  it is there to the end
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_PLAINLY)


def tell(words: str) -> str:
    """Writes words to standard output and sees all of it on its way; what is in the way, "" for nothing.

    Who reads through a pipe and closes it has read enough: nothing is wrong then.
    """
    try:
        sys.stdout.write(words)
        sys.stdout.flush()
    except OSError as problem:
        with suppress(OSError):  # what is left in the stream would be a second mistake at its end
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)
        return "" if isinstance(problem, BrokenPipeError) else problem.strerror or str(problem)
    return ""


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
        with open(os.devnull, "w", encoding="utf-8", errors="replace") as nowhere, redirect(nowhere):
            os.dup2(nowhere.fileno(), stream)
            yield
    finally:
        _flush()
        os.dup2(kept, stream)
        os.close(kept)


def _flush() -> None:
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            with suppress(OSError):  # of the answer `tell` tells it, of the rest nobody wants to know
                stream.flush()
    # Blender writes through C, whose buffer would else be emptied later, into the answer.
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).fflush(None)


def _plainly(problem: UnicodeError) -> tuple[str | bytes, int]:
    """A letter that a stream does not know in plain ones; a byte of a file's name that is no letter as that byte."""
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    letter = problem.object[problem.start]
    if "\udc80" <= letter <= "\udcff":
        return bytes([ord(letter) - 0xDC00]), problem.start + 1
    code = ord(letter)
    return _PLAIN.get(letter) or (f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"), problem.start + 1


codecs.register_error(_PLAINLY, _plainly)
