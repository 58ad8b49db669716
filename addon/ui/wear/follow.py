"""Panel and build keep step: choosing a build brings its own dials back, and a turned dial acts on it at once.

What takes long when it is chosen in the panel, as another preset, goes step by step: the panel shows what is on the
build until the choice is, so that undoing never finds the one without the other.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from typing import Any, cast

import bpy

from ... import usecases
from ...core.errors import BuildProblem, PlaywornError
from ...core.presets.preset import Preset
from ...core.wear.layers import SIZES, resized, size_mm
from .. import disk, gather, steps, told
from ..context import Context, Settings

_CHOICES = (
    "preset_name", "changes", "seed", "looseness", "wear", "layer_dials", "textures", "texture_uses", "quality",
    "rounding",    "has_window", "window_deg", "has_wall", "wall_deg",
)  # fmt: skip

_quiet = 0


@dataclass(frozen=True)
class Asked:
    """What was chosen for a build, as it stood in the panel and as a use case takes it."""

    chosen: dict[str, Any]
    preset: Preset
    dials: usecases.Dials

    @classmethod
    def of(cls, settings: Settings) -> "Asked":
        chosen = {name: getattr(settings, name) for name in _CHOICES}
        return cls(chosen, gather.preset(settings), gather.dials(settings))

    def show(self, settings: Settings, problem: PlaywornError | None = None) -> None:
        """Shows it in the panel, once it is on the build, or could not be put on."""
        with quietly():
            for name, value in self.chosen.items():
                setattr(settings, name, value)
        with problem_shown(settings):
            if problem:
                raise problem


asked: Asked | None = None


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
    if _quiet or build is None:
        return
    with problem_shown(settings):
        told.of(build).inspection = usecases.inspect(build)
        told.look_by_hand(build)
        _show(settings, usecases.recall(build))


def choose_brought(settings: Settings, brought: usecases.Brought) -> None:
    """Shows a build that was looked at when it was brought in."""
    with quietly():
        settings.build = brought.build
    with problem_shown(settings):
        told.of(settings.build).inspection = brought.inspection
        if brought.inspection is None and brought.problem:
            raise brought.problem


def look(settings: Settings) -> None:
    """Looks at a build again whose bricks have changed."""
    with problem_shown(settings):
        told.of(settings.build).inspection = usecases.inspect(settings.build)


def look_again(settings: Settings, context: bpy.types.Context) -> None:
    """Looks at the build once what counts as its bricks has changed, and puts the preset on those anew."""
    with problem_shown(settings):
        told.of(settings.build).inspection = usecases.inspect(settings.build)
    reapply(settings, context)


def reapply(settings: Settings, context: bpy.types.Context) -> None:
    """Puts another preset, other textures or another quality on a build that has been applied."""
    if _is_clicked(context):
        if _ask(settings):
            _begin("reapply")
    else:
        _act(settings, lambda build, dials: usecases.apply(build, gather.preset(settings), dials))


def _is_clicked(context: bpy.types.Context) -> bool:
    """Whether a choice is made in the panel, and not by a script."""
    area = cast(Context, context).area
    return not bpy.app.background and area is not None and area.type == "VIEW_3D"


def _ask(settings: Settings) -> bool:
    """Whether there is something to put on; the panel shows what is on the build until it is."""
    global asked
    asked = None
    if not _is_followed(settings):
        return False
    with problem_shown(settings):
        asked = Asked.of(settings)
        _show(settings, usecases.recall(settings.build))
    return asked is not None


def _begin(operator: str) -> None:
    with suppress(RuntimeError):  # what an operator called from here has reported, it raises too
        getattr(cast(Any, bpy.ops).playworn, operator)("INVOKE_DEFAULT")


def textures(settings: Settings, context: bpy.types.Context) -> None:
    """Measures the folder that was chosen, and puts its pictures on a build that has been applied."""
    if not _quiet:
        settings.texture_uses = ""  # of another folder's pictures
    use_textures(settings, context)


def use_textures(settings: Settings, context: bpy.types.Context) -> None:
    """The same once it was chosen what its pictures are for."""
    if _is_clicked(context) and not _quiet:
        _begin("reapply" if _ask(settings) else "measure_textures")
    else:
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
            found = usecases.survey_textures(folder, gather.preset(settings), gather.uses(settings))
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


def layers(settings: Settings, _context: bpy.types.Context) -> None:
    """Gives a build that has been applied its layers and its story as they are set: amounts, and sizes of pictures."""

    def turned(build: bpy.types.Collection, dials: usecases.Dials) -> None:
        was, now = usecases.recall(build).preset, gather.preset(settings)
        own = {layer: size_mm(now.wear, layer) for layer in SIZES}
        usecases.dial_wear(build, replace(was, wear=resized(was.wear, own), story=now.story), dials)

    _act(settings, turned)


def _act(settings: Settings, action: Callable) -> None:
    build = settings.build
    if not _is_followed(settings):
        return
    disk.look()
    with problem_shown(settings):
        if steps.is_at_work():
            raise BuildProblem(f'something is being done to the build "{build.name}": wait for its end')
        done = action(build, gather.dials(settings))
        if done is not None:
            told.applied(build, done)


def _is_followed(settings: Settings) -> bool:
    """Whether the build has a look that what is set acts on."""
    return not _quiet and settings.build is not None and usecases.is_applied(settings.build)


@contextmanager
def problem_shown(settings: Settings) -> Iterator[None]:
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
        settings.texture_uses = gather.text(state.uses)
        settings.layer_dials = gather.text(state.layers)
        for what in ("window", "wall"):
            angle = getattr(state, f"{what}_deg")
            setattr(settings, f"has_{what}", angle is not None)
            if angle is not None:  # else the field keeps its own, for when there is one again
                setattr(settings, f"{what}_deg", angle)
