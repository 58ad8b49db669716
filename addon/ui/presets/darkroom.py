"""Pictures that presets of the user's own lack, rendered one after the other by a Blender in the background.

This one never waits for it, and takes it along when it ends.
"""

from dataclasses import dataclass

import bpy

from ... import usecases
from ...core.presets import thumbnail
from ...core.presets.catalogue import OWN
from .. import errand, told
from ..errand import Errand
from . import choices

_EVERY_S = 0.5  # between two looks at the work
_MOST_S = 300.0  # that a picture may take


@dataclass
class _Work:
    """A picture that is being made."""

    name: str
    errand: Errand


problem = ""  # why the last picture could not be made
_work: _Work | None = None
_tried: set[tuple[str, str]] = set()  # name and look of what was begun: it is not made twice


def develop_soon() -> None:
    """Begins with what lacks a picture, once drawing is over."""
    if errand.is_open() and _work is None and not bpy.app.timers.is_registered(develop):
        bpy.app.timers.register(develop, persistent=True)


def develop() -> float | None:
    """Begins with the next picture or looks after the one that is made; seconds until the next look, None for none."""
    global _work, problem
    if _work and not _work.errand.is_over and _work.errand.took_s < _MOST_S:
        return _EVERY_S
    if _work:
        problem = _end(_work)
        if problem:
            print(problem)
        _work = None
        choices.forget()
        told.redraw()
    name = _next()
    if not name:
        return None
    try:
        _work = _Work(name, Errand(command(name)))
    except OSError as refused:
        problem = f'The picture of "{name}" cannot be made: no Blender starts in the background ({refused.strerror})'
        return None
    return _EVERY_S


def under_way() -> str:
    """The name of the preset whose picture is being made, "" for none."""
    return _work.name if _work else ""


def forget() -> None:
    """Ends what is being made, and makes nothing any more."""
    global _work, problem
    if bpy.app.timers.is_registered(develop):
        bpy.app.timers.unregister(develop)
    if _work:
        _end(_work)
    _work, problem = None, ""
    _tried.clear()


def command(name: str) -> list[str]:
    """How a Blender is told to make it."""
    return errand.command("presets", "thumbnail", name)


def _next() -> str:
    """The first preset of the user's own that has no picture of how it looks now, "" for none."""
    for listed in choices.listed():
        preset = choices.preset(listed.name) if listed.origin == OWN and not listed.problem else None
        look = (listed.name, thumbnail.look(preset)) if preset else None
        if preset and look and look not in _tried and usecases.preset_picture(listed, preset) is None:
            _tried.add(look)
            return listed.name
    return ""


def _end(work: _Work) -> str:
    """Takes the process along; what went wrong, "" where nothing did."""
    is_late, words = not work.errand.is_over, work.errand.end()
    if is_late:
        return f'The picture of "{work.name}" took more than {_MOST_S:.0f} s and was given up'
    return f'The picture of "{work.name}" was not made: {words}' if words else ""
