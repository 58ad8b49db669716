"""A shot: a camera with a range of frames, and dials that multiply what the build's preset and dials say."""

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, make_dataclass, replace

from ..errors import ShotProblem
from ..presets.preset import Preset, strengthened
from ..wear.layers import LAYERS
from .growth import Growth

MOST = 2.0  # of a build's looseness and of a shot's multipliers
LARGEST_SEED = 2**31 - 1
LAST_FRAME = 1_048_574  # of Blender's timeline, either way
LONGEST_NOTE = 500  # letters
SETTINGS = ("A", "B")  # of a shot's dials, to be compared
CLOSE = 0.02  # share of a target that counts as met
_FINE = 0.05  # of a looseness: how much less is tried, where less reads nearly as much
_STEPS = 30  # of the search: more than halving from 2 to a millionth takes
_NAME = re.compile(r"[^\s=.,/\\](?:[^\n=.,/\\]{0,58}[^\s=.,/\\])?")


_OfLayers = make_dataclass("_OfLayers", [(layer, float, 1.0) for layer in LAYERS], frozen=True)


@dataclass(frozen=True)
class ShotDials(_OfLayers):
    """What a shot makes of the build's own values, each layer's strength among them; as they stand here, a shot looks
    as the build does."""

    looseness: float = 1.0
    wear: float = 1.0
    rounding: float = 1.0
    seed: int = 0  # added to the build's: 0 keeps the same hands in every shot
    wear_last: float | None = None  # at the shot's last frame, to which `wear` grows from its first; none: it stays

    @property
    def turned(self) -> dict[str, float]:
        """Those that differ from the build."""
        return {name: value for name in NAMES if (value := getattr(self, name)) != getattr(INHERITED, name)}

    @property
    def ends_worn(self) -> float:
        """The wear at the shot's last frame, grown or not."""
        return self.wear if self.wear_last is None else self.wear_last

    def words(self, form: str = "g") -> tuple[str, ...]:
        """The dials that differ from the build, each as its name and number."""
        told = {name: f"{name} {value:{form}}" for name, value in self.turned.items()}
        if self.seed:
            told["seed"] = f"seed + {self.seed}"
        if self.wear_last is not None:
            told["wear"] = f"wear {self.wear:{form}} to {self.wear_last:{form}}"
        return tuple(told[name] for name in NAMES if name in told)

    def moves_as(self, other: "ShotDials") -> bool:
        """Whether bricks sit the same under both."""
        return (self.looseness, self.seed) == (other.looseness, other.seed)


INHERITED = ShotDials()
NAMES = ("looseness", "wear", "rounding", *LAYERS, "seed")  # in the order in which they are shown


@dataclass(frozen=True)
class Shot:
    name: str
    camera: str  # an object's name
    first: int  # frames, both within
    last: int
    by_hand: bool = False  # not from a marker: finding anew leaves it
    dials: ShotDials = field(default_factory=ShotDials)
    locked: bool = False  # its dials stay as they are, and it stays with them
    note: str = ""  # the artist's words on it
    setting: str = SETTINGS[0]  # which of two its dials are
    aside: ShotDials | None = None  # those of the other; none before it was ever chosen

    @property
    def frames(self) -> tuple[int, ...]:
        """The frames it is measured at: first, middle and last."""
        return tuple(dict.fromkeys((self.first, self.middle, self.last)))

    @property
    def middle(self) -> int:
        return (self.first + self.last) // 2

    def growth(self, wear: float) -> Growth:
        """How worn a build of so much wear is over the shot's frames."""
        start, end = (min(wear * each, MOST) for each in (self.dials.wear, self.dials.ends_worn))
        return Growth(start, end, self.first, self.last)

    def reads_as(self, other: "Shot") -> bool:
        """Whether what one was measured as holds for the other too."""
        return (self.camera, self.frames, self.dials) == (other.camera, other.frames, other.dials)


def check(shot: Shot) -> Shot:
    """The shot, or a ShotProblem with what is wrong with it."""
    if not isinstance(shot.name, str) or not isinstance(shot.camera, str):
        raise ShotProblem(f"a shot has the name {shot.name!r:.70} and the camera {shot.camera!r:.70}: give it words")
    if not _NAME.fullmatch(shot.name) or not shot.name.isprintable():
        raise ShotProblem(
            f'a shot cannot be called "{shot.name[:70]}": use at most 60 letters, digits, spaces, - and _, as in sh020'
        )
    for frame in (shot.first, shot.last):
        if isinstance(frame, bool) or not isinstance(frame, int) or abs(frame) > LAST_FRAME:
            raise ShotProblem(f'the shot "{shot.name}" has a frame {frame!r:.40}: give a number up to {LAST_FRAME}')
    if shot.first > shot.last:
        raise ShotProblem(
            f'the shot "{shot.name}" starts at frame {shot.first} and ends at {shot.last}: give a range that goes on'
        )
    for dials in filter(None, (shot.dials, shot.aside)):
        _check_dials(shot.name, dials)
    if shot.setting not in SETTINGS:
        raise ShotProblem(
            f'the setting of the shot "{shot.name}" is {shot.setting!r:.40}: give {" or ".join(SETTINGS)}'
        )
    if not isinstance(shot.locked, bool):
        raise ShotProblem(f'the lock of the shot "{shot.name}" is {shot.locked!r:.40}: give true or false')
    if not isinstance(shot.note, str) or len(shot.note) > LONGEST_NOTE or any(map(_is_control, shot.note)):
        raise ShotProblem(
            f'the note of the shot "{shot.name}" cannot be kept: use at most {LONGEST_NOTE} letters, none of them a '
            "control character"
        )
    return shot


def _check_dials(shot: str, dials: ShotDials) -> None:
    shares = {name: getattr(dials, name) for name in NAMES[:-1]}
    if dials.wear_last is not None:
        shares["wear at the last frame"] = dials.wear_last
    for name, value in shares.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0.0 <= value <= MOST:
            raise ShotProblem(f'{name} of the shot "{shot}" is {value!s:.40}: give 0 to {MOST:g}')
    seed = dials.seed
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed <= LARGEST_SEED:
        raise ShotProblem(f'seed of the shot "{shot}" is {seed!s:.40}: give a whole number from 0 to {LARGEST_SEED}')


def _is_control(letter: str) -> bool:
    return unicodedata.category(letter) in ("Cc", "Cs")  # or half a letter, of a name in no encoding


def checked(shots: Iterable[Shot]) -> tuple[Shot, ...]:
    """The shots in order of their frames; ShotProblem where one is wrong or two have one name."""
    found: dict[str, Shot] = {}
    for shot in map(check, shots):
        if shot.name in found:
            raise ShotProblem(f'two shots are called "{shot.name}": rename the marker or the shot')
        found[shot.name] = shot
    return tuple(sorted(found.values(), key=lambda shot: (shot.first, shot.last, shot.name)))


def from_markers(markers: Iterable[tuple[int, str, str]], last: int) -> tuple[Shot, ...]:
    """Shots from markers (frame, name, camera): each lasts until the next one's, the latest to `last` or its own frame.

    Of markers on one frame the first counts; one name twice gets a number.
    """
    starts: dict[int, tuple[str, str]] = {}
    for frame, name, camera in sorted(markers, key=lambda marker: marker[0]):
        starts.setdefault(frame, (name, camera))
    if not starts:
        return ()
    frames = list(starts)
    ends = [*(frame - 1 for frame in frames[1:]), max(last, frames[-1])]
    shots, used = [], set()
    for (frame, (name, camera)), end in zip(starts.items(), ends, strict=True):
        name = free_name(name, used)
        used.add(name)
        shots.append(Shot(name, camera, frame, end))
    return checked(shots)


def free_name(words: str, used: Collection[str]) -> str:
    """A name made of some words, with dashes for what a shot's name may not hold and a number where it is used."""
    clean = "".join("-" if letter in "=.,/\\" or not letter.isprintable() else letter for letter in words).strip()
    name = clean[:50].strip() or "shot"
    number, found = 2, name
    while found in used:
        number, found = number + 1, f"{name}-{number}"
    return found


def found_anew(kept: Iterable[Shot], found: Iterable[Shot]) -> tuple[Shot, ...]:
    """What the timeline says, with all that shots of the same name had; those made by hand and those that are locked
    stay without it."""
    before, found = {shot.name: shot for shot in kept}, tuple(found)
    names = {shot.name for shot in found}
    stay = [shot for shot in before.values() if (shot.by_hand or shot.locked) and shot.name not in names]
    return checked([*(_as_before(shot, before.get(shot.name, shot)) for shot in found), *stay])


def _as_before(shot: Shot, before: Shot) -> Shot:
    return replace(before, camera=shot.camera, first=shot.first, last=shot.last, by_hand=shot.by_hand)


def named(shots: Iterable[Shot], name: str) -> Shot:
    shots = tuple(shots)
    for shot in shots:
        if shot.name == name:
            return shot
    there = ", ".join(shot.name for shot in shots[:12]) or "none"
    raise ShotProblem(f'there is no shot called "{name}": name one that is there ({there})')


def unlocked(shot: Shot) -> Shot:
    """The shot, or a ShotProblem where it is locked."""
    if shot.locked:
        raise ShotProblem(f'the shot "{shot.name}" is locked: unlock it first')
    return shot


def changed(shots: Iterable[Shot], name: str, change: Callable[[Shot], Shot]) -> tuple[Shot, ...]:
    """The shots with one of them changed; ShotProblem where it is not there or wrong then."""
    shots = tuple(shots)
    before = named(shots, name)
    now = check(change(before))
    return tuple(now if each is before else each for each in shots)


def turned(shots: Iterable[Shot], changes: Mapping[tuple[str, str], float]) -> tuple[Shot, ...]:
    """The shots with some dials, each named by shot and dial, at other values."""
    shots = tuple(shots)
    for (name, dial), value in changes.items():
        dials = unlocked(named(shots, name)).dials
        if dial not in NAMES:
            raise ShotProblem(f'a shot has no dial "{dial}": name one of {", ".join(NAMES)}')
        if dial == "seed" and float(value).is_integer():
            value = int(value)
        now = replace(dials, **{dial: value})
        shots = changed(shots, name, lambda shot, now=now: replace(shot, dials=now))
    return shots


def grown(shot: Shot, to: float | None) -> Shot:
    """The shot with a wear that grows to a value at its last frame, or stays as at its first."""
    return check(replace(unlocked(shot), dials=replace(shot.dials, wear_last=to)))


def copied(shots: Iterable[Shot], source: str, to: Collection[str]) -> tuple[Shot, ...]:
    """The shots, of which some have the dials of another."""
    shots = tuple(shots)
    dials = named(shots, source).dials
    if source in to or not to:
        raise ShotProblem(f'the dials of the shot "{source}" are for other shots: name at least one of them')
    for name in to:
        unlocked(named(shots, name))
        shots = changed(shots, name, lambda shot: replace(shot, dials=dials))
    return shots


def set_to(shot: Shot, setting: str) -> Shot:
    """The shot with one of its two settings, the other laid aside; what was never chosen begins as the other is."""
    if setting == shot.setting:
        return shot
    unlocked(shot)
    return check(replace(shot, setting=setting, dials=shot.aside or shot.dials, aside=shot.dials))


def over(dials: ShotDials, preset: Preset) -> Preset:
    """The preset as a shot shows it, its looseness, wear and seed apart; none of its values leaves its range."""
    shares = {layer: getattr(dials, layer) for layer in LAYERS}
    return strengthened(preset, shares, dials.rounding)


@dataclass(frozen=True)
class Solved:
    """Where a dial was turned to for a target."""

    dial: float
    px: float  # what it reads as there
    met: bool  # within CLOSE of the target


def solved(target_px: float, reads_px: Callable[[float], float], most: float = MOST) -> Solved:
    """The least looseness from 0 to `most` at which `reads_px` comes within CLOSE of a target that it grows towards.

    Where even `most` stays short, the least that reads nearly as much as that is the answer.
    """
    nearest = _nearest(target_px, reads_px, most)
    enough = (1.0 - CLOSE) * (target_px if nearest.met else min(target_px, nearest.px))
    found, low, less = nearest, 0.0, (1.0 - _FINE) * nearest.dial
    while found.dial - low > _FINE * nearest.dial:
        reads = reads_px(less)
        if reads >= enough:
            found = Solved(less, reads, nearest.met)
        else:
            low = less
        less = 0.5 * (low + found.dial)
    return found


def _nearest(target_px: float, reads_px: Callable[[float], float], most: float) -> Solved:
    """Where `reads_px` comes nearest to a target: regula falsi, Illinois variant (Dowell and Jarratt 1971), halving
    where that stalls."""
    low, below, high, above = 0.0, reads_px(0.0), most, reads_px(most)
    best = min(((abs(below - target_px), low, below), (abs(above - target_px), high, above)))
    if below < target_px < above:
        weight_low, weight_high = below - target_px, above - target_px
        for step in range(_STEPS):
            if best[0] <= 0.1 * CLOSE * target_px:
                break
            share = weight_low / (weight_low - weight_high) if step % 4 != 3 else 0.5
            middle = low + (high - low) * min(max(share, 0.02), 0.98)
            reads = reads_px(middle)
            best = min(best, (abs(reads - target_px), middle, reads))
            if reads < target_px:
                low, weight_low, weight_high = middle, reads - target_px, 0.5 * weight_high
            else:
                high, weight_high, weight_low = middle, reads - target_px, 0.5 * weight_low
    return Solved(best[1], best[2], best[0] <= CLOSE * target_px)
