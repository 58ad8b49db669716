"""What the panel draws: outcomes by the build's session number, never Blender's objects."""

from dataclasses import dataclass, field

import bpy

from ..core.findings import Findings
from ..core.report import Applied, Inspection
from ..scene import state as marks

KEPT = 64  # outcomes, so that undo and redo find theirs again


@dataclass
class Told:
    """What is known of one build."""

    inspection: Inspection | None = None
    problem: str = ""
    problem_with: object = None  # the settings that led to it


@dataclass(frozen=True)
class Outcome:
    """What applying or dialling did."""

    effect: str = ""
    warning: str = ""
    left_alone: dict[str, list[str]] = field(default_factory=dict)  # names of objects by reason


@dataclass(frozen=True)
class Textures:
    """What is known of a textures folder."""

    folder: str = ""  # as it stands in the setting
    found: tuple[Findings, ...] = ()
    problem: str = ""


textures = Textures()

_told: dict[int, Told] = {}
_outcomes: dict[tuple[int, str], Outcome] = {}


def of(build: bpy.types.Collection) -> Told:
    """What is known of the build; one from before this session starts with nothing."""
    return _told.setdefault(build.session_uid, Told())


def outcome(build: bpy.types.Collection) -> Outcome:
    """What was done to the build as it is now, also after undo and redo; nothing where that was not in this session."""
    return _outcomes.get(_state(build), Outcome())


def applied(build: bpy.types.Collection, done: Applied) -> None:
    """Keeps what was done and which objects were left as they were."""
    left_alone: dict[str, list[str]] = {}
    for each in done.skipped:
        left_alone.setdefault(each.reason, []).append(each.object)
    _outcomes.pop(_state(build), None)
    _outcomes[_state(build)] = Outcome(done.effect, done.warning[:1].upper() + done.warning[1:], left_alone)
    while len(_outcomes) > KEPT:
        del _outcomes[next(iter(_outcomes))]


def problem(build: bpy.types.Collection, settings: object) -> str:
    """What went wrong with these very settings, "" once they are others."""
    known = of(build)
    return known.problem if known.problem_with == settings else ""


def forget() -> None:
    """Drops everything."""
    global textures
    textures = Textures()
    _told.clear()
    _outcomes.clear()


def _state(build: bpy.types.Collection) -> tuple[int, str]:
    return build.session_uid, build.get(marks.MARK, "")
