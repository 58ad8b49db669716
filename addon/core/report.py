"""What the tool tells about its work: plain values, ready for a sentence, a table or JSON."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

DONE = "done"
APPLIED = "transforms were applied, or others joined, while worn"
KEYED = "deltas are animated or driven"
_NAMED = 3


def counted(count: int, word: str) -> str:
    """So many of something, as in "1 brick" and "2 bricks"."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _listed(names: Sequence[str]) -> str:
    """The first few of some names, the rest counted."""
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more


@dataclass(frozen=True)
class Skipped:
    """Something left as it was, and why."""

    object: str
    reason: str


@dataclass(frozen=True)
class TextureUse:
    """What became of one of the user's pictures, or which layer goes without one."""

    layer: str  # one that has pictures; "" where it is left out
    picture: str  # file name, or "stand-in"
    reason: str  # why it is left out or stands in, "" where a picture serves


@dataclass(frozen=True)
class ByHand:
    """What an artist gave single bricks and materials of a build."""

    amounts: tuple[float, ...] = ()  # of bricks that have one of their own
    materials: tuple[str, ...] = ()  # that have an amount of their own
    masks: tuple[tuple[str, int], ...] = ()  # layers, and how many materials have a mask for each
    places: tuple[tuple[str, float], ...] = ()  # of the file, and the amount of each

    @property
    def sentence(self) -> str:
        """All of it in one line, "" for nothing."""
        new = sum(not amount for amount in self.amounts)
        other = len(self.amounts) - new
        told = [f"{counted(new, 'brick')} new"] if new else []
        whose = "its" if other == 1 else "their"
        told += [f"{counted(other, 'brick')} at an amount of {whose} own"] if other else []
        told += [f"amounts on {_listed(self.materials)}"] if self.materials else []
        masks = [f"{layer} ({counted(n, 'material')})" for layer, n in self.masks]
        told += [f"masks on {', '.join(masks)}"] if masks else []
        for words, names in (
            ("more worn near", [name for name, amount in self.places if amount > 1.0]),
            ("less worn near", [name for name, amount in self.places if amount <= 1.0]),
        ):
            told += [f"{words} {_listed(tuple(names))}"] if names else []
        return "; ".join(told)


@dataclass(frozen=True)
class Inspection:
    """What a build is."""

    build: str
    bricks: int
    parts: int
    joints: int
    contacts: int
    duplicates: int
    cuts: int  # pairs of bricks whose bodies cut into each other in the export itself
    loose: int  # bricks that no stud holds and that do not stand on the build's lowest level
    materials: int
    mm_per_unit: float
    up_axis: str
    size_mm: tuple[float, float, float]
    applied: str  # the preset on it, "" for none
    warnings: tuple[str, ...]
    left_out: tuple[Skipped, ...] = ()  # objects that are no bricks
    colours: int = 0  # that its bricks have between them
    by_hand: str = ""  # what an artist gave single bricks and materials, in one line

    @property
    def sentence(self) -> str:
        """What was found, in one line."""
        if not self.bricks:
            return "No brick build"
        largest = max(self.size_mm)
        size = " × ".join(f"{length / 10:.{0 if largest >= 100 else 1}f}" for length in self.size_mm)
        told = [f"{counted(self.bricks, 'brick')} of {counted(self.parts, 'part')}", f"{size} cm"]
        return ", ".join([*told, counted(self.colours, "colour")] if self.colours else told)


@dataclass(frozen=True)
class Applied:
    """What applying a preset did to a build."""

    build: str
    preset: str
    seed: int
    looseness: float
    wear: float
    quality: str
    rounding: str
    bricks: int
    moved: int
    median_shift_mm: float
    largest_shift_mm: float
    largest_lift_mm: float
    largest_twist_deg: float
    largest_tilt_deg: float
    turned: int  # bricks turned by more than a degree
    lean_mm: float  # how far the top has gone sideways
    calmed: int  # bricks that could take only a part of the motion asked for, the limits leaving no way to more
    least_share: float  # of its motion that the worst of these could take; 1 for none
    cut: int  # places where bodies or studs are beyond their limits all the same
    tight: float  # share of the joints at their play: nearly none of it is left
    materials: int  # worn by this; a turned dial touches none
    skipped: tuple[Skipped, ...]
    textures: tuple[TextureUse, ...]  # none where no folder was given
    shots_off: int = 0  # shots whose keys this took off the timeline
    spent: bool = False  # whether a budget ended the fit before it was as close as it gets
    held_back: int = 0  # bricks that for this reason took less of their motion, so that nothing cuts
    takes: float = 0.0  # the looseness up to which the build goes along; 0 where that was not looked for
    as_one: int = 0  # bricks that move as one with another, the limits leaving the two no play
    heaped: int = 0  # bricks that stay as they are, each lying in several others

    @property
    def dry(self) -> str:
        """Where the dial runs dry, "" where that was not looked for."""
        return runs_dry(self.takes)

    @property
    def sentence(self) -> str:
        if not self.moved:
            return "no brick moved" + self._off
        return (
            f"{self.moved} of {self.bricks} bricks moved, half of them by more than {self.median_shift_mm:.3f} mm; "
            f"{self.turned} turned more than a degree, leans {self.lean_mm:.2f} mm at the top{self._off}"
        )

    @property
    def _off(self) -> str:
        if not self.shots_off:
            return ""
        return f"; the keys of {self.shots_off} shots are off the timeline: put the shots on it again"

    @property
    def effect(self) -> str:
        """What it does to the build, in few words."""
        if not self.moved:
            return "No brick moved" + self._off
        return (
            f"Median shift {self.median_shift_mm:.3f} mm, {self.turned} turned over 1°, "
            f"leans {self.lean_mm:.2f} mm at the top, {self.tight:.0%} of joints at their play{self._off}"
        )

    @property
    def warning(self) -> str:
        """What the limits or a budget leave no way to, "" for nothing."""
        advice = "give more play, lift or clearance, or less looseness"
        if self.cut:
            places = "1 place is" if self.cut == 1 else f"{self.cut} places are"
            return f"{places} beyond the limits: {advice}"
        if self.spent:
            held = f"{self.held_back} of {self.bricks} bricks" if self.held_back else "no brick"
            return (
                f"the budget ran out before the fit was as close as it gets: all limits are kept, {held} held back for "
                "it; give more sweeps, or no budget"
            )
        if self.calmed:
            bricks = counted(self.calmed, "brick")
            return (
                f"the limits cannot hold together: the most that {bricks} could take is "
                f"{self.least_share:.0%} of the motion asked for; {advice}"
            )
        if self.heaped:
            return f"{self.heaped} bricks stay as they are, each lies in several others: move them apart"
        if self.as_one:
            return (
                f"{self.as_one} bricks move as one with a neighbour, the limits leave them no play: {advice}, or mend "
                "the export where its bricks lie in each other"
            )
        return ""


@dataclass(frozen=True)
class Outcome:
    """What became of one build where a preset was put on several."""

    file: str  # "" for the open one
    build: str
    bricks: int
    moved: int
    left_alone: int  # objects and materials, as its own report lists them
    result: str  # DONE, or why nothing was done to it

    @property
    def is_done(self) -> bool:
        return self.result == DONE


@dataclass(frozen=True)
class TakenIn:
    """What became of one preset, or one folder of textures, of a file that held several."""

    DONE: ClassVar = "taken in"
    THERE: ClassVar = "was there already"

    name: str
    result: str  # DONE, THERE, or why it was not taken in

    @property
    def is_well(self) -> bool:
        return self.result in (self.DONE, self.THERE)


@dataclass(frozen=True)
class Cleared:
    """What clearing a build did."""

    build: str
    bricks: int  # bricks put back
    materials: int  # materials given back as they were
    outside: int = 0  # bricks, of these, that had left the build
    stays: tuple[Skipped, ...] = ()  # bricks that stay as they stand, and why
    changed: int = 0  # bricks that keep the mesh that an artist changed while it was rounded

    @property
    def sentence(self) -> str:
        outside = f", {self.outside} of the bricks outside of the build" if self.outside else ""
        told = f"{counted(self.bricks, 'brick')} and {counted(self.materials, 'material')} are as they were{outside}"
        return told + _staying(self.stays) + _keeping(self.changed)


@dataclass(frozen=True)
class ClearedFile:
    """What clearing everything of Playworn in a file did."""

    builds: int
    bricks: int  # bricks put back
    materials: int  # materials given back as they were
    marks: int  # data-blocks that told of Playworn, and do no more
    linked: int = 0  # data-blocks of other files that still do
    stays: tuple[Skipped, ...] = ()  # bricks that stay as they stand, and why
    changed: int = 0  # bricks that keep the mesh that an artist changed while it was rounded

    @property
    def sentence(self) -> str:
        told = f"{self.bricks} bricks and {self.materials} materials are as they were, nothing of Playworn is left"
        linked = f"; {self.linked} data-blocks of other files keep what is on them: clear those" if self.linked else ""
        return (
            (told if self.marks else "There was nothing of Playworn in this file")
            + _staying(self.stays)
            + _keeping(self.changed)
            + linked
        )


def _staying(stays: tuple[Skipped, ...]) -> str:
    """Which bricks stay as they stand, as the end of a sentence."""
    counts = {reason: sum(each.reason == reason for each in stays) for reason in (APPLIED, KEYED)}
    told = ""
    for reason, count in counts.items():
        if count:
            stay = "1 brick stays as it stands" if count == 1 else f"{count} bricks stay as they stand"
            told += f"; {stay}: {reason}"
    return told


def _keeping(changed: int) -> str:
    """How many bricks keep a mesh of the artist's, as the end of a sentence."""
    if not changed:
        return ""
    return f"; {'1 brick keeps' if changed == 1 else f'{changed} bricks keep'} the mesh that you changed"


@dataclass(frozen=True)
class OnTimeline:
    """What putting shots on the timeline did."""

    build: str
    shots: int
    bricks: int  # that move from shot to shot, or stand otherwise than as applied
    curves: int
    skipped: tuple[Skipped, ...]  # what stands still in all shots, as applied

    @property
    def sentence(self) -> str:
        shots = counted(self.shots, "shot")
        return f"{shots} on the timeline: {self.bricks} bricks keyed, {self.curves} curves in all"


@dataclass(frozen=True)
class PassesOn:
    """What putting passes on did."""

    build: str
    layers: tuple[str, ...]  # view layers that have them
    passes: tuple[str, ...]  # those that the wear hands out
    old: tuple[str, ...] = ()  # materials whose wear, by an older version, hands out none

    @property
    def sentence(self) -> str:
        return f"Passes on {counted(len(self.layers), 'view layer')}: {_listed(self.layers)}"

    @property
    def warning(self) -> str:
        """What is missing in them, "" where nothing is."""
        if not self.old:
            return ""
        has = "has" if len(self.old) == 1 else "have"
        return f"{_listed(self.old)} {has} wear of an older version, which has no masks: apply the preset once more"


@dataclass(frozen=True)
class RenderedShot:
    """What rendering one shot did."""

    name: str
    camera: str
    first: int  # frames, both within
    last: int
    rendered: int  # frames
    there: int  # frames that stayed as they were


@dataclass(frozen=True)
class ContactSheet:
    """What a contact sheet shows."""

    build: str
    shots: int
    plates: int  # shots beside their plate


@dataclass(frozen=True)
class Job:
    """What a job for a farm renders."""

    build: str
    shots: int
    tasks: int
    frames: int


@dataclass(frozen=True)
class Seen:
    """What there is of one thing on the sides of a build's bricks, in its unit."""

    what: str
    unit: str  # "" for a share
    least: float
    median: float
    most: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Check:
    """The measured state of a build's fit."""

    build: str
    bricks: int
    moved: int
    preset: str
    seed: int
    looseness: float
    max_shift_mm: float
    max_lift_mm: float
    max_twist_deg: float
    max_tilt_deg: float
    max_play_mm: float  # largest sideways step between two joined bricks, measured at their shared studs
    max_interference_mm: float  # deepest cut of one body into another, beyond what the export itself has
    skipped: tuple[Skipped, ...]
    missing_textures: tuple[str, ...]  # files that are gone: their layers come out clean
    takes: float = 0.0  # the looseness up to which the build goes along with its preset; 0 without one
    misfits: tuple[str, ...] = ()  # sentences on what does not fit in the export itself

    @property
    def dry(self) -> str:
        """Where the dial runs dry, "" without a preset."""
        return runs_dry(self.takes)


def runs_dry(takes: float) -> str:
    """A sentence about the looseness that a build takes, "" for nothing."""
    return f"This build takes looseness up to {takes:.1f}" if takes else ""
