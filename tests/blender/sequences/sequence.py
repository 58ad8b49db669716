"""A sequence: ours and the artist's actions in one file, and the artist's alone in another that was never worn.

Once ours is cleared both files are to be the same.
"""

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import bpy

from addon.core.errors import PlaywornError

from . import builds, known, seen
from .case import MIXING, Case
from .hand import Action, Actions, Hand, Nothing
from .ours import COMMON, OURS, clear_all, clear_builds
from .placing import PLACING
from .seen import Difference, Seen
from .shaping import SHAPING
from .touched import Touched

Step = list  # the name of an action and what was chosen for it
WEIGHTS = {"put_on": 5, "dial_fit": 3, "clear": 2, "update": 0.3, "delete": 0.5}
# What stays on a build that is cleared: what an artist said of bricks and shots, and what bringing in and updating did.
BY_HAND = {"playworn_pinned", "playworn_roll", "playworn_brick", "playworn_shots", "playworn_shot_cameras",
           "playworn_placed", "playworn_came", "playworn_export", "playworn_removed", "playworn_aside",
           "playworn_added", "playworn_stood", "playworn_key", "playworn_home",
           "playworn_told", "playworn_version", "playworn_look", "playworn_looked", "playworn_named",
           "playworn_lattice"}  # fmt: skip
ARTISTS = Actions({**PLACING, **SHAPING})
ALL = Actions({**ARTISTS, **COMMON, **OURS})


@dataclass
class Told:
    """What became of a sequence."""

    steps: list[Step] = field(default_factory=list)
    said: list[str] = field(default_factory=list)  # of each: "", "nothing", or what Blender or we said instead
    slowest: tuple[float, str] = (0.0, "")  # seconds of processor time, and the action
    meant: Counter[str] = field(default_factory=Counter)  # what differs by purpose, by its reason


class Sequence:
    """One that is going on in the open file."""

    def __init__(self, build: str, count: int) -> None:
        self.build, self.count = build, count
        self.told, self.touched = Told(), Touched()
        builds.begin(build, count)

    def drawn(self, name: str, hand: Hand) -> None:
        """Draws an action and does it; nothing where there is nothing that it could be done to."""
        try:
            step = ALL[name].drawn(hand)
        except Nothing:
            return
        self.do(step)

    def do(self, step: Step) -> None:
        if step[0] not in OURS:
            self.touched.before(step[0], step[1:] if step[0] in ARTISTS else [])
        begun = time.process_time()
        said = _said(ALL[step[0]], step[1:])
        took = time.process_time() - begun
        self.touched.after()
        self.told.steps.append(step)
        self.told.said.append(said)
        self.told.slowest = max(self.told.slowest, (took, step[0]))

    def ended(self) -> list[Difference]:
        """Clears all of ours, and compares with the artist's steps in a file that was never worn. What differs by
        purpose is counted by its reason."""
        found = self._cleared() if len(self.told.steps) % 2 else []
        if said := _said(Action("clear all", (), clear_all), []):
            found.append(Difference("step", "clear all", "said", "", said))
        worn, pitch, touched = seen.look(), builds.pitch(), self.touched.by_name()
        left = seen.ours()
        never, expected = self._never_worn()
        found += [Difference("left", each, "there", None, True) for each in left]
        case = Case(never, worn, touched, pitch, _shown_by(never, worn), self._is_updated)
        said = [
            Difference("step", str(step), "said", one, other)
            for step, one, other in zip(self.told.steps, expected, self.told.said, strict=True)
            if step[0] not in OURS and one != other
        ]
        for each in [*said, *seen.differences(never, worn, seen.NEAR * pitch, lambda name: _is_mixed(case, name))]:
            if why := known.reason(each, case):
                self.told.meant[why] += 1
            else:
                things = case.shown.get(each.name, {each.name}) if each.kind == "meshes" else {each.name}
                done = set().union(*(touched.get(thing, ()) for thing in things))
                found.append(replace(each, touched=tuple(sorted(done))))
        return found

    @property
    def _is_updated(self) -> bool:
        return any(step[0] == "update" for step in self.told.steps)

    def _cleared(self) -> list[Difference]:
        """What is left of ours, but for what was said by hand, once each build is cleared."""
        said = _said(Action("clear builds", (), clear_builds), [])
        if said:
            return [] if said == "nothing" else [Difference("step", "clear builds", "said", "", said)]
        left = [each for each in seen.ours() if each.split()[-1] not in BY_HAND]
        return [Difference("left after clear", each, "there", None, True) for each in left]

    def _never_worn(self) -> tuple[Seen, list[str]]:
        builds.begin(self.build, self.count)
        said = ["" if step[0] in OURS else _said(ALL[step[0]], step[1:]) for step in self.told.steps]
        clear_all()  # what an update tells of itself
        return seen.look(), said


def _is_mixed(case: Case, name: str) -> bool:
    """Whether Blender put some of ours into the channels of an object, or into a mesh that it shows."""
    return any(case.did(thing, *MIXING) for thing in (name, *case.shown.get(name, ())))


def _shown_by(*looks: Seen) -> dict[str, set[str]]:
    """The objects that show each mesh."""
    found: dict[str, set[str]] = {}
    for look in looks:
        for (kind, name, part), value in look.items():
            if (kind, part) == ("objects", "data") and value:
                found.setdefault(value, set()).add(name)
    return found


def again(build: str, count: int, steps: list[Step]) -> list[Difference]:
    """A sequence that was written down."""
    sequence = Sequence(build, count)
    for step in steps:
        sequence.do(step)
    return sequence.ended()


def _said(action: Action, chosen: list) -> str:
    bpy.context.view_layer.update()  # between two clicks Blender looks at what there is
    try:
        action.do(*chosen)
    except Nothing:
        return "nothing"
    except (PlaywornError, RuntimeError) as problem:
        return f"{type(problem).__name__}: {problem}".strip()
    return ""


def fewest(build: str, count: int, steps: list[Step], fails: Callable[[list[Step]], bool]) -> list[Step]:
    """As few of the steps as still fail, one left out at a time."""
    for size in (8, 4, 2, 1, 1):
        start = len(steps)
        while start > 0:
            start = max(start - size, 0)
            fewer = steps[:start] + steps[start + size :]
            if fails(fewer):
                steps = fewer
    return steps
