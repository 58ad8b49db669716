"""What the panel draws: outcomes by the build's session number, never Blender's objects."""

from dataclasses import dataclass, field

import bpy

from ..core.report import Applied, Inspection


@dataclass
class Told:
    """What the last actions told about one build."""

    inspection: Inspection | None = None
    applied: str = ""  # what applying or dialling did, in a sentence
    left_alone: dict[str, list[str]] = field(default_factory=dict)  # names of objects by reason
    problem: str = ""


_told: dict[int, Told] = {}


def of(build: bpy.types.Collection) -> Told:
    """What is known of the build; one from before this session starts with nothing."""
    return _told.setdefault(build.session_uid, Told())


def applied(build: bpy.types.Collection, done: Applied) -> None:
    """Keeps what was done and which objects were left as they were."""
    told = of(build)
    told.applied, told.problem, told.left_alone = done.sentence, "", {}
    for each in done.skipped:
        told.left_alone.setdefault(each.reason, []).append(each.object)


def cleared(build: bpy.types.Collection) -> None:
    """Keeps nothing but what the build is."""
    _told[build.session_uid] = Told(of(build).inspection)


def forget() -> None:
    """Drops everything."""
    _told.clear()
