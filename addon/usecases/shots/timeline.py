"""Putting the dials of shots on the timeline of one file, and taking them off again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from math import isfinite

import bpy

from ...blender import context
from ...core import report
from ...core.errors import BuildProblem, DialProblem, ShotProblem
from ...core.fit import fit
from ...core.shots.shot import Shot
from ...core.shots.shutter import LONGEST
from ...core.slices import sliced
from ...core.wear.layers import LAYERS
from ...scene.build import state
from ...scene.build.build import Build, read, reading
from ...scene.columns import Columns
from ...scene.fit import motion, travel
from ...scene.fit.deltas import Deltas
from ...scene.shots import keys, lenses
from ...scene.wear import handwork
from ...transaction import transaction
from ..progress import Progress, Steps, done, part, quiet
from ..wear.dials import MOST, Dials, over
from .shots import for_shot, list_shots

_LAST = 1_048_574  # Blender's own frames end there
_TOO_LONG = (
    "The shutter is open for {:g} frames, so that of a shot's last frame is still open when the next one's opens, and "
    f"bricks blur at the cuts: let Motion Blur have a shutter of {LONGEST:g} at most"
)
_CUT_OTHERWISE = (
    "The shutter's position or the time remapping is not as it was when the shots were put on the timeline, so bricks "
    "move at the cuts while it is open: put them on the timeline again"
)
_ROUNDING = "is a shot with a rounding of its own, which no key holds: apply it in a file for this shot"


@dataclass(frozen=True)
class Grows:
    """What the wear of a shot grows to, straight from that of its dials at the first frame."""

    last_frame: int
    wear: float
    wear_share: float | None = None  # as of the shot


@dataclass(frozen=True)
class OnFrame:
    """A shot as the timeline needs it; of its dials looseness, seed and wear count, textures and quality are the
    material's."""

    name: str
    first_frame: int
    dials: Dials
    layers: Mapping[str, float] = field(default_factory=dict)  # factors over the preset's amounts
    wear_share: float | None = None  # of the build's wear, when that is turned; None: as their ratio is now
    grows: Grows | None = None

    def __post_init__(self) -> None:
        if not -_LAST <= self.first_frame <= _LAST:
            raise ShotProblem(f'the shot "{self.name}" starts at frame {self.first_frame}: give one up to {_LAST}')
        for layer, factor in self.layers.items():
            if layer not in LAYERS:
                known = ", ".join(LAYERS)
                raise ShotProblem(f'the shot "{self.name}" turns "{layer}", which is no layer: choose from {known}')
            if not (isfinite(factor) and 0.0 <= factor <= MOST):
                raise DialProblem(f'the shot "{self.name}" has {layer} at {factor:g}: give a number from 0 to {MOST:g}')
        if self.grows and not (isfinite(self.grows.wear) and 0.0 <= self.grows.wear <= MOST):
            raise DialProblem(
                f'the shot "{self.name}" grows to a wear of {self.grows.wear:g}: give a number from 0 to {MOST:g}'
            )
        if self.grows and not self.first_frame <= self.grows.last_frame <= _LAST:
            raise ShotProblem(
                f'the shot "{self.name}" grows from frame {self.first_frame} to {self.grows.last_frame}: '
                "give a later one"
            )


def on_timeline(
    collection: bpy.types.Collection, shots: Sequence[OnFrame], progress: Progress = quiet
) -> report.OnTimeline:
    """Keys the dials of shots: each holds from its first frame until the next, the first before that too.

    What was on the timeline before is replaced. Deltas at every frame are those of applying that shot's dials alone.
    """
    return done(keying(collection, shots), progress)


def keying(collection: bpy.types.Collection, shots: Sequence[OnFrame]) -> Steps[report.OnTimeline]:
    """The same step by step; closed at any of them, everything is as it was."""
    applied = _applied(collection)
    with transaction():
        handwork.adopt_moved(Columns(collection).objects)
        return (yield from _keying(collection, applied, _in_order(shots)))


def _keying(
    collection: bpy.types.Collection, applied: state.State, shots: Sequence[OnFrame]
) -> Steps[report.OnTimeline]:
    build = yield from part(0.0, "reading the build", reading(collection))
    solved: dict[tuple[float, int], Deltas] = {}
    for number, shot in enumerate(shots):
        wanted = shot.dials.looseness, shot.dials.seed
        words = 0.8 * number / len(shots), f"fitting the bricks for {shot.name}"
        yield words
        if wanted not in solved:
            sits = yield from part(*words, sliced(partial(_fitted, build, applied, shot.dials)))
            solved[wanted] = motion.deltas_of(build, sits.motions)
    yield 0.8, "writing the keys"  # the last moment to stop
    shutter = lenses.shutter(context().scene)
    told = [{**_told(shot), keys.CUT: shutter.cut(shot.first_frame)} for shot in shots]
    held = [
        keys.Held(
            each[keys.CUT],
            keys.growth(each),
            over(applied.layers, shot.layers),
            solved[shot.dials.looseness, shot.dials.seed],
        )
        for each, shot in zip(told, shots, strict=True)
    ]
    with transaction():
        keys.remove(collection)
        written = keys.write(build, held, told)
    return report.OnTimeline(collection.name, len(shots), written.bricks, written.curves, written.skipped)


def shots_on_timeline(
    collection: bpy.types.Collection, scene: bpy.types.Scene, progress: Progress = quiet
) -> report.OnTimeline:
    """Keys every shot of a scene at its own dials; a rounding of its own is left out, and told."""
    return done(keying_shots(collection, scene), progress)


def keying_shots(collection: bpy.types.Collection, scene: bpy.types.Scene) -> Steps[report.OnTimeline]:
    """The same step by step; closed at any of them, everything is as it was."""
    applied = _applied(collection)
    shots, now = list_shots(scene), Dials(applied.seed, applied.looseness, applied.wear)
    told = yield from keying(collection, [_on_frame(shot, applied, now) for shot in shots])
    apart = [report.Skipped(shot.name, _ROUNDING) for shot in shots if shot.dials.rounding != 1.0]
    return replace(told, skipped=(*told.skipped, *apart, *_overlaps(shots)))


def _overlaps(shots: Sequence[Shot]) -> list[report.Skipped]:
    """The shots, in the order of their frames, of which another takes the last frames."""
    late = "goes on to frame {}, but {} takes over at {}: from there on the build stands as in that one"
    return [
        report.Skipped(one.name, late.format(one.last, other.name, other.first))
        for one, other in pairwise(shots)
        if one.last >= other.first
    ]


def blur_at_cuts(collection: bpy.types.Collection, scene: bpy.types.Scene) -> str:
    """Why bricks blur where one shot on the timeline takes over from another, as the scene renders now; "" where none
    does."""
    shutter, shots = lenses.shutter(scene), keys.shots_of(collection)[1:]
    firsts, cuts = [shot["first_frame"] for shot in shots], keys.cuts_of(collection)[1:]
    if shots and shutter.is_open_too_long:
        return _TOO_LONG.format(shutter.length)
    if all(shutter.parts(first, cut) for first, cut in zip(firsts, cuts, strict=True)):
        return ""
    return _CUT_OTHERWISE


def _applied(collection: bpy.types.Collection) -> state.State:
    applied = state.recall(collection)
    if applied is None:
        raise BuildProblem(f'no preset is on the build "{collection.name}": apply one before its shots are keyed')
    return applied


def _fitted(build: Build, applied: state.State, dials: Dials) -> fit.Fitted:
    return fit.fitted(build.bricks, applied.preset.fit, dials.seed, dials.looseness, build.held, applied.budget)


def _on_frame(shot: Shot, applied: state.State, now: Dials) -> OnFrame:
    layers = {layer: getattr(shot.dials, layer) for layer in LAYERS}
    growth = shot.growth(applied.wear)
    grows = None if growth.is_still else Grows(shot.last, growth.end, shot.dials.wear_last)
    return OnFrame(shot.name, shot.first, for_shot(shot, applied.preset, now)[1], layers, shot.dials.wear, grows)


def off_timeline(collection: bpy.types.Collection) -> int:
    """Takes the shots' keys off, exactly; how many shots there were."""
    with transaction():
        count = keys.remove(collection)
        if travel.any_told(Columns(collection).objects):
            travel.tell(read(collection))
        return count


def _in_order(shots: Sequence[OnFrame]) -> list[OnFrame]:
    if not shots:
        raise ShotProblem("there is no shot to put on the timeline: make one first")
    ordered = sorted(shots, key=lambda shot: shot.first_frame)
    for one, other in pairwise(ordered):
        if one.first_frame == other.first_frame:
            raise ShotProblem(
                f'the shots "{one.name}" and "{other.name}" both start at frame {one.first_frame}: move one of them'
            )
    return ordered


def _told(shot: OnFrame) -> dict:
    dials, grows = shot.dials, shot.grows
    growth = {keys.GROWS: {"last_frame": grows.last_frame, **_worn(grows.wear, grows.wear_share)}} if grows else {}
    return {
        **growth,
        **_worn(dials.wear, shot.wear_share),
        "name": shot.name,
        "first_frame": shot.first_frame,
        "seed": dials.seed,
        "looseness": dials.looseness,
        "layers": dict(shot.layers),
    }


def _worn(wear: float, share: float | None) -> dict[str, float]:
    return {"wear": wear} if share is None else {"wear": wear, "wear_share": share}
