"""One preset on several builds: of a scene, of what is selected, of a whole file. Each is done whole or not at all."""

from collections.abc import Iterable, Iterator

import bpy

from ...core import report
from ...core.build import contacts
from ...core.errors import BuildProblem, Cancelled, PlaywornError
from ...core.presets.preset import Preset
from ...scene.build import builds, state
from ...scene.build.build import read
from ..progress import Progress, quiet
from . import look
from .dials import Dials


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
) -> Iterator[tuple[report.Outcome, report.Applied | None]]:
    """Puts a preset on each build in turn; what cannot have it is left as it is and tells why.

    What nobody has `chosen` by name must be a build as well, and not furniture of the scene.
    """
    rooms = list(rooms)
    for number, room in enumerate(rooms):

        def part(fraction: float, words: str, number: int = number, name: str = room.name) -> None:
            progress((number + fraction) / len(rooms), f"{name}: {words}")

        try:
            if not chosen:
                _check_held(room)
            done = look.apply(room, preset, dials, part)
        except Cancelled:
            raise
        except PlaywornError as problem:
            yield report.Outcome(file, room.name, 0, 0, 0, str(problem)), None
        else:
            yield report.Outcome(file, room.name, done.bricks, done.moved, len(done.skipped), report.DONE), done


def _check_held(room: bpy.types.Collection) -> None:
    """Raises BuildProblem where no stud of a collection that has no preset on it yet holds a brick."""
    if not state.is_marked(room) and not len(contacts.contacts(read(room).bricks).joints):
        raise BuildProblem(f'the collection "{room.name}" is no build, no stud in it holds a brick: choose it by name')
