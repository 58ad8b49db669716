"""Pictures of the user's own presets, rendered one after the other by a Blender in the background.

This one never waits for it, and takes it along when it ends.
"""

import os
import subprocess
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from time import monotonic
from typing import IO

import bpy

from ... import usecases
from ...core.presets import thumbnail
from ...core.presets.catalogue import OWN, Listed
from .. import told
from . import choices

_EVERY_S = 0.5  # between two looks at the work
_MOST_S = 300.0  # that a picture may take
_NICE = 10  # of 19: everything else goes before it
_LOW_ON_WINDOWS = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)


@dataclass
class _Work:
    """A picture that is being made."""

    name: str
    process: subprocess.Popen
    said: IO[bytes]  # on standard error
    begun_s: float


problem = ""  # why the last picture could not be made
_work: _Work | None = None
_asked: list[str] = []  # presets to make a picture of whether they have one or not
_tried: set[tuple[str, str]] = set()  # name and look of what was begun: it is not made twice by itself


def why_not() -> str:
    """Why no picture can be made here, "" where one can."""
    if bpy.app.background or not bpy.app.binary_path:
        return "Only a Blender with a window renders them in the background; presets thumbnail NAME does it here"
    return ""


def develop(*asked: str) -> None:
    """Begins with the pictures that were asked for and those that presets of the user's own lack."""
    _asked.extend(asked)
    if not why_not() and _work is None:
        _begin_next()


def develop_soon() -> None:
    """The same once drawing is over."""
    if not why_not() and _work is None and not bpy.app.timers.is_registered(develop):
        bpy.app.timers.register(develop, persistent=True)


def under_way() -> str:
    """The name of the preset whose picture is being made, "" for none."""
    return _work.name if _work else ""


def forget() -> None:
    """Ends what is being made, and makes nothing any more."""
    global _work, problem
    for timer in (develop, look_after):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
    if _work:
        _end(_work)
    _work, problem = None, ""
    _asked.clear()
    _tried.clear()


def look_after() -> float | None:
    """Looks whether the picture is there; seconds until it is to be looked again, None where nothing is under way."""
    global _work, problem
    if _work is None:
        return None
    if _work.process.poll() is None and monotonic() - _work.begun_s < _MOST_S:
        return _EVERY_S
    problem = _end(_work)
    if problem:
        print(problem)
    _work = None
    _begin_next()
    told.redraw()
    return _EVERY_S if _work else None


def command(name: str) -> list[str]:
    """How a Blender is told to make it; the add-on is named, for it may be on in this session alone."""
    package = (__package__ or "").rpartition(".addon.")[0]
    words = ("--background", "--addons", package, "--command", "playworn", "presets", "thumbnail", name)
    return [bpy.app.binary_path, *words]


def _begin_next() -> None:
    global _work, problem
    waiting = [*_asked, *(each.name for each in choices.listed() if _lacks(each))]
    if not waiting:
        return
    name = waiting[0]
    _asked[:] = [each for each in _asked if each != name]
    if preset := choices.preset(name):
        _tried.add((name, thumbnail.look(preset)))
    try:
        _work = _begun(name)
    except OSError as refused:
        problem = f'The picture of "{name}" cannot be made: no Blender starts in the background ({refused.strerror})'
        return
    if not bpy.app.timers.is_registered(look_after):
        bpy.app.timers.register(look_after, first_interval=_EVERY_S, persistent=True)


def _lacks(listed: Listed) -> bool:
    preset = choices.preset(listed.name) if listed.origin == OWN and not listed.problem else None
    if preset is None or (listed.name, thumbnail.look(preset)) in _tried:
        return False
    return usecases.preset_picture(listed, preset) is None


def _begun(name: str) -> _Work:
    said = tempfile.TemporaryFile()  # noqa: SIM115  it is closed when the work ends
    process = subprocess.Popen(
        command(name),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=said,
        creationflags=_LOW_ON_WINDOWS,
    )
    if not _LOW_ON_WINDOWS:
        with suppress(OSError):  # it is over already
            os.setpriority(os.PRIO_PROCESS, process.pid, _NICE)
    return _Work(name, process, said, monotonic())


def _end(work: _Work) -> str:
    """Takes the process along; what went wrong, "" where nothing did."""
    is_late = work.process.poll() is None
    if is_late:
        work.process.kill()
    code = work.process.wait()
    with work.said as said:
        said.seek(0)
        words = said.read().decode("utf-8", "replace").strip().splitlines()
    if is_late:
        return f'The picture of "{work.name}" took more than {_MOST_S:.0f} s and was given up'
    return f'The picture of "{work.name}" was not made: {words[-1] if words else f"exit code {code}"}' if code else ""
