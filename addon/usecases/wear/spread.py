"""One preset on several builds: of a scene, of what is selected, of a whole file. Each is done whole or not at all."""

from collections.abc import Iterable

import bpy

from ...core import report
from ...core.build import contacts
from ...core.errors import BuildProblem, PlaywornError
from ...core.presets.preset import Preset
from ...scene.build import builds, state
from ...scene.build.build import read
from ...transaction import transaction
from ..progress import Progress, Steps, done, quiet, share
from . import look
from .dials import Dials

OnOne = tuple[report.Outcome, report.Applied | None]  # what became of one build


def builds_of_scene(scene: bpy.types.Scene) -> list[bpy.types.Collection]:
    """The builds of a scene, none within another."""
    return builds.all_builds(scene)


def builds_of_file() -> list[bpy.types.Collection]:
    """The builds of every scene of the open file, each once."""
    return list(dict.fromkeys(room for scene in bpy.data.scenes for room in builds.all_builds(scene)))


def builds_of_selection(scene: bpy.types.Scene, things: list[bpy.types.Object]) -> list[bpy.types.Collection]:
    """The builds in which the objects stand: a fit is solved over a whole build, so it is the build that gets it."""
    return builds.standing_in(scene, things)


def apply_to_all(
    rooms: Iterable[bpy.types.Collection],
    preset: Preset,
    dials: Dials,
    progress: Progress = quiet,
    file: str = "",
    chosen: bool = False,
) -> list[OnOne]:
    """Puts a preset on each build in turn; what cannot have it is left as it is and tells why.

    What nobody has `chosen` by name must be a build as well, and not furniture of the scene.
    """
    return done(applying_to_all(rooms, preset, dials, file, chosen), progress)


def applying_to_all(
    rooms: Iterable[bpy.types.Collection], preset: Preset, dials: Dials, file: str = "", chosen: bool = False
) -> Steps[list[OnOne]]:
    """The same step by step; closed at any of them, all builds are as they were."""
    rooms, outcomes = list(rooms), list[OnOne]()
    with transaction():
        for number, room in enumerate(rooms):
            one = _on_one(room, preset, dials, file, chosen)
            outcomes.append((yield from share(number / len(rooms), (number + 1) / len(rooms), room.name, one)))
    return outcomes


def _on_one(room: bpy.types.Collection, preset: Preset, dials: Dials, file: str, chosen: bool) -> Steps[OnOne]:
    try:
        if not chosen:
            _check_held(room)
        told = yield from look.applying(room, preset, dials)
    except PlaywornError as problem:
        return report.Outcome(file, room.name, 0, 0, 0, str(problem)), None
    return report.Outcome(file, room.name, told.bricks, told.moved, len(told.skipped), report.DONE), told


def _check_held(room: bpy.types.Collection) -> None:
    """Raises BuildProblem where no stud of a collection that has no preset on it yet holds a brick."""
    if not state.is_marked(room) and not len(contacts.contacts(read(room).bricks).joints):
        raise BuildProblem(f'the collection "{room.name}" is no build, no stud in it holds a brick: choose it by name')
