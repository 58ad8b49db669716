"""Panel and build keep step: choosing a build brings its own dials back, and a turned dial acts on it at once."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import bpy

from ... import usecases
from ...core.errors import PlaywornError
from .. import disk, gather, told
from ..context import Settings

_quiet = 0


@contextmanager
def quietly() -> Iterator[None]:
    """Properties set within act on nothing."""
    global _quiet
    _quiet += 1
    try:
        yield
    finally:
        _quiet -= 1


def choose(settings: Settings, _context: bpy.types.Context) -> None:
    """Looks at the build that was chosen and shows its dials, where it has been applied."""
    build = settings.build
    if build is None:
        return
    with _problem_shown(settings):
        told.of(build).inspection = usecases.inspect(build)
        _show(settings, usecases.recall(build))


def look(settings: Settings) -> None:
    """Looks at a build again whose bricks have changed."""
    with _problem_shown(settings):
        told.of(settings.build).inspection = usecases.inspect(settings.build)


def look_again(settings: Settings, context: bpy.types.Context) -> None:
    """Looks at the build once what counts as its bricks has changed, and puts the preset on those anew."""
    with _problem_shown(settings):
        told.of(settings.build).inspection = usecases.inspect(settings.build)
    reapply(settings, context)


def reapply(settings: Settings, _context: bpy.types.Context) -> None:
    """Puts another preset, other textures or another quality on a build that has been applied."""
    _act(settings, lambda build, dials: usecases.apply(build, gather.preset(settings), dials))


def textures(settings: Settings, context: bpy.types.Context) -> None:
    """Measures the folder that was chosen, and puts its pictures on a build that has been applied."""
    measure(settings)
    reapply(settings, context)


def measure(settings: Settings) -> None:
    """Measures every picture of the folder, for the panel to list; what is wrong with the folder, it tells."""
    if _quiet:
        return
    folder = gather.dials(settings).textures
    told.textures = told.Textures(settings.textures)
    if folder:
        try:
            found = usecases.survey_textures(folder, gather.preset(settings))
            told.textures = told.Textures(settings.textures, found)
        except PlaywornError as problem:
            told.textures = told.Textures(settings.textures, (), str(problem))


def dial(settings: Settings, _context: bpy.types.Context) -> None:
    """Moves the bricks of a build that has been applied, by the preset that is on it."""
    _act(settings, lambda build, dials: usecases.dial(build, usecases.recall(build).preset, dials))


def limits(settings: Settings, _context: bpy.types.Context) -> None:
    """Gives a build that has been applied the limits as they are set."""

    def limited(build: bpy.types.Collection, dials: usecases.Dials):
        preset = replace(usecases.recall(build).preset, fit=gather.preset(settings).fit)
        return usecases.dial(build, preset, dials)

    _act(settings, limited)


def dial_wear(settings: Settings, _context: bpy.types.Context) -> None:
    """Shows more or less of the wear of a build that has been applied."""
    _act(settings, lambda build, dials: usecases.dial_wear(build, usecases.recall(build).preset, dials))


def _act(settings: Settings, action: Callable) -> None:
    build = settings.build
    if _quiet or build is None or not usecases.is_applied(build):
        return
    disk.look()
    with _problem_shown(settings):
        done = action(build, gather.dials(settings))
        if done is not None:
            told.applied(build, done)


@contextmanager
def _problem_shown(settings: Settings) -> Iterator[None]:
    """A property cannot report: what went wrong stands in the panel until it goes right or other settings are made."""
    known = told.of(settings.build)
    try:
        yield
        known.problem = ""
    except PlaywornError as problem:
        known.problem, known.problem_with = str(problem), gather.choice(settings)


def _show(settings: Settings, state: usecases.State | None) -> None:
    if state is None:
        return
    with quietly():
        settings.preset_name, settings.changes = state.preset.name, gather.changes_in(state.preset)
        settings.seed, settings.looseness, settings.wear = state.seed, state.looseness, state.wear
        settings.textures, settings.quality, settings.rounding = state.textures, state.quality, state.rounding
