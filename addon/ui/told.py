"""What the panel draws: outcomes by the build's session number, never Blender's objects."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import bpy

from .. import usecases
from ..blender import context
from ..core.pictures.difference import Difference, Updated
from ..core.remembered import goes_too
from ..core.report import Applied, Inspection, Skipped
from ..core.shots.shot import Shot
from ..core.wear.findings import Findings

KEPT = 64  # outcomes, so that undo and redo find theirs again


@dataclass
class Told:
    """What is known of one build."""

    inspection: Inspection | None = None
    problem: str = ""
    problem_with: object = None  # the settings that led to it
    by_hand: str = ""  # what an artist gave single bricks and materials


@dataclass(frozen=True)
class Outcome:
    """What applying or dialling did."""

    effect: str = ""
    warning: str = ""
    dry: str = ""
    left_alone: dict[str, list[str]] = field(default_factory=dict)  # names of objects by reason


@dataclass(frozen=True)
class Textures:
    """What is known of a textures folder."""

    folder: str = ""  # as it stands in the setting
    found: tuple[Findings, ...] = ()
    problem: str = ""


@dataclass(frozen=True)
class Measured:
    """What a shot read as when it was last measured."""

    reads: usecases.ReadsAs
    state: str  # of the build then


@dataclass(frozen=True)
class Update:
    """What the last update of a build has changed."""

    done: Updated
    seen: Difference
    changes: dict[str, list[str]]  # names of objects by what happened to them
    skipped: dict[str, list[str]]  # by why they could not follow the export


textures = Textures()
shot_problem = ""  # why a shot could not be changed
sheet = ""  # where the last contact sheet is

_told: dict[int, Told] = {}
_outcomes: dict[tuple[int, str], Outcome] = {}
_measured: dict[tuple[int, int, str], Measured] = {}
_updates: dict[int, Update] = {}


def of(build: bpy.types.Collection) -> Told:
    """What is known of the build; one from before this session starts with nothing."""
    return _told.setdefault(build.session_uid, Told())


def look_by_hand(build: bpy.types.Collection) -> None:
    """Looks at what an artist gave single bricks and materials."""
    of(build).by_hand = usecases.by_hand(build).sentence


def outcome(build: bpy.types.Collection) -> Outcome:
    """What was done to the build as it is now, also after undo and redo; nothing where that was not in this session."""
    return _outcomes.get(_state(build), Outcome())


def left_alone(build: bpy.types.Collection) -> dict[str, list[str]]:
    """Names of the objects that were left as they were or are no bricks, by reason."""
    done, known = outcome(build).left_alone, of(build).inspection
    return done or (_by_reason(known.left_out) if known else {})


def applied(build: bpy.types.Collection, done: Applied) -> None:
    """Keeps what was done and which objects were left as they were."""
    _outcomes.pop(_state(build), None)
    warning = done.warning[:1].upper() + done.warning[1:]
    _outcomes[_state(build)] = Outcome(done.effect, warning, done.dry, _by_reason(done.skipped))
    while len(_outcomes) > KEPT:
        del _outcomes[next(iter(_outcomes))]


def updated(build: bpy.types.Collection, done: Updated, seen: Difference) -> None:
    """Keeps what an update did, in place of what the one before it did."""
    _updates[build.session_uid] = Update(done, seen, _by_reason(done.changes), _by_reason(done.skipped))


def update_of(build: bpy.types.Collection) -> Update | None:
    """What the last update of the build did; None where there was none in this session."""
    return _updates.get(build.session_uid)


def problem(build: bpy.types.Collection, settings: object) -> str:
    """What went wrong with these very settings, "" once they are others."""
    known = of(build)
    return known.problem if known.problem_with == settings else ""


def measured(build: bpy.types.Collection, scene: bpy.types.Scene, reads: usecases.ReadsAs) -> None:
    """Keeps what a shot of the scene reads as, in place of what it read as before."""
    _measured[_of_shot(build, scene, reads.shot)] = Measured(reads, _state(build)[1])


def reads_as(build: bpy.types.Collection, scene: bpy.types.Scene, shot: Shot) -> usecases.ReadsAs | None:
    """What the shot read as when it was last measured; None where that was not in this session."""
    known = _measured.get(_of_shot(build, scene, shot))
    return known.reads if known else None


def is_current(build: bpy.types.Collection, scene: bpy.types.Scene, shot: Shot) -> bool:
    """Whether the shot and the build are as they were when it was measured."""
    known = _measured.get(_of_shot(build, scene, shot))
    return known is not None and known.reads.shot.reads_as(shot) and known.state == _state(build)[1]


def redraw() -> None:
    """Has every area drawn anew, for what no event tells of."""
    for window in context().window_manager.windows:
        for area in window.screen.areas:
            area.tag_redraw()


@goes_too
def forget() -> None:
    """Drops everything."""
    global textures, shot_problem, sheet
    textures, shot_problem, sheet = Textures(), "", ""
    _told.clear()
    _outcomes.clear()
    _measured.clear()
    _updates.clear()


def _by_reason(skipped: Iterable[Skipped]) -> dict[str, list[str]]:
    names: dict[str, list[str]] = {}
    for each in skipped:
        names.setdefault(each.reason, []).append(each.object)
    return names


def _of_shot(build: bpy.types.Collection, scene: bpy.types.Scene, shot: Shot) -> tuple[int, int, str]:
    return build.session_uid, scene.session_uid, shot.name


def _state(build: bpy.types.Collection) -> tuple[int, str]:
    return build.session_uid, usecases.state_text(build)
