"""Dials on the timeline: what each shot changes on the bricks and the scene, as keys that hold until the next shot."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf

import bpy
import numpy as np

from ... import raw
from ...blender import context
from ...core.remembered import keeping
from ...core.report import Skipped
from ...core.shots.growth import Growth
from .. import curves
from ..build import builds, state
from ..build.build import Build
from ..columns import Columns
from ..fit import deltas, stances, travel
from ..fit.deltas import Deltas
from ..wear import stamps

MARK = "playworn_timeline"  # on a build: the shots that its keys are for
CUT, GROWS = "cut_frame", "grows"  # of a shot that is told; the latter where its wear grows
_STOOD = "playworn_stood"  # on the scene: the values beneath our keys, null where there was none


@dataclass(frozen=True)
class Worn:
    """The wear that holds from a frame on until the next one."""

    frame: float  # between two frames that are rendered
    wear: Growth
    layers: Mapping[str, float]  # factors; 1 where a layer is not named


@dataclass(frozen=True)
class Held(Worn):
    """What holds from a frame on until the next one."""

    deltas: Deltas  # of all bricks of the build


@dataclass(frozen=True)
class Lifted:
    """What keys said of objects before they were taken off."""

    objects: list[bpy.types.Object]
    deltas: np.ndarray  # (shots, n, 13) as `Deltas.packed` puts them; where no key is, as it stands

    def of(self, things: Sequence[bpy.types.Object], others: Deltas) -> np.ndarray:
        """(shots, m, 13) of some things; of those that had no keys, what `others` (m) say."""
        row = {thing: n for n, thing in enumerate(self.objects)}
        rows = np.array([row.get(thing, -1) for thing in things])
        return np.where((rows < 0)[:, None], others.packed(), self.deltas[:, rows])


@dataclass(frozen=True)
class Written:
    """What went onto the timeline."""

    bricks: int  # that have keys
    curves: int
    skipped: tuple[Skipped, ...]  # bricks that stand still, and values of the scene that are an artist's


def write(build: Build, shots: Sequence[Held], told: Sequence[dict]) -> Written:
    """Keys what differs from how it stands; `shots` in the order of their frames, `told` is kept for `shots_of`.

    There are no keys of ours yet: `remove` them first.
    """
    frames, now = _frames([shot.frame for shot in shots])
    raw.put(build.collection, MARK, json.dumps(told))
    fit = _write_fit(build, frames, [shot.deltas for shot in shots], now)
    wear = [_write_wear(scene, shots) for scene in builds.scenes_showing(build.collection)]
    skipped = [*fit.skipped, *(left for each in wear for left in each.skipped)]
    return Written(fit.bricks, fit.curves + sum(each.curves for each in wear), tuple(skipped))


def rewear(collection: bpy.types.Collection, shots: Sequence[Worn], told: Sequence[dict]) -> None:
    """Keys another wear for the shots that a build has keys for; its bricks keep theirs."""
    raw.put(collection, MARK, json.dumps(told))
    for scene in builds.scenes_showing(collection):
        _write_wear(scene, shots)


def unwear(collection: bpy.types.Collection) -> None:
    """Takes the keys of the wear alone off the scenes that show a build, until `rewear`."""
    for scene in builds.scenes_showing(collection):
        _unkey(scene)
    curves.sweep()


def remove(collection: bpy.types.Collection) -> int:
    """Takes our keys off a build, and off the scene where no other build needs them; how many shots they were for.

    Everything stands as it did before there were keys.
    """
    stances.SHOTS.end(collection)
    shots = shots_of(collection)
    if MARK not in collection:
        return 0
    raw.drop(collection, MARK)
    _take_off(Columns(collection))
    if not any(MARK in other for other in state.marked()):
        for scene in bpy.data.scenes:
            _unkey(scene)
    curves.sweep()
    return len(shots)


def remove_from(owners: Iterable[curves.Owner]) -> None:
    """Takes our keys off objects and scenes that belong to no build with keys any more."""
    for owner in owners:
        if owner.is_editable:
            curves.remove(owner)
    curves.sweep()


def lift(collection: bpy.types.Collection) -> Lifted:
    """Takes the keys off the bricks of a build, until `lay`; those of the wear stay."""
    columns, frames = Columns(collection), cuts_of(collection)
    said = [deltas.held(thing, frames) for thing in columns.objects]
    _take_off(columns)
    curves.sweep()
    tables = np.repeat(deltas.current(columns).packed()[None], len(frames), axis=0)
    for n, curve in enumerate(said):
        for channel, values in curve.items():
            tables[:, n, channel] = values
    return Lifted(columns.objects, tables)


def lay(build: Build, shots: Sequence[Deltas]) -> Written:
    """Keys the deltas of all bricks for each of the shots that are told of a build; there are none on its bricks."""
    frames, now = _frames(cuts_of(build.collection))
    return _write_fit(build, frames, shots, now)


def shots_of(collection: bpy.types.Collection) -> list[dict]:
    """What `write` was told of each shot; nothing where the build has no keys, or another hand wrote it."""
    return list(_told_in(raw.text(collection, MARK) or "[]"))


@keeping(16)
def _told_in(text: str) -> list[dict]:
    """Parsed once for as long as the file says the same: a panel asks at every redraw."""
    try:
        told = raw.said(text)
        return told if all(map(_is_whole, told)) else []
    except (ValueError, TypeError, AttributeError):
        return []


def _is_whole(shot: dict) -> bool:
    are_numbers = isinstance(shot.get(CUT, 0.0), int | float) and isinstance(shot.get(GROWS, {}), dict)
    return {"first_frame", "seed", "looseness"} <= shot.keys() and are_numbers


def cuts_of(collection: bpy.types.Collection) -> list[float]:
    """When each of the shots that a build has keys for takes over; in older files on its first frame."""
    return [float(shot.get(CUT, shot["first_frame"])) for shot in shots_of(collection)]


def growth(shot: dict) -> Growth:
    """The wear of a shot that is told."""
    grows = shot.get(GROWS) or {"wear": shot["wear"], "last_frame": shot["first_frame"]}
    return Growth(shot["wear"], grows["wear"], shot["first_frame"], grows["last_frame"])


def _write_fit(build: Build, frames: np.ndarray, shots: Sequence[Deltas], now: int) -> Written:
    standing = deltas.current(build.columns).rows(build.rows).packed()
    tables = np.stack([each.packed() for each in shots])
    keyed = (tables.view(np.uint32) != standing.view(np.uint32)).any(axis=0)
    quaternion = [n for n, (name, _) in enumerate(deltas.CHANNELS) if name == "delta_rotation_quaternion"]
    keyed[:, quaternion] = keyed[:, quaternion].any(axis=1, keepdims=True)  # Blender mixes a whole one or none
    keyed[build.held] = False
    actions, skipped = curves.Actions(curves.OF_FIT), []
    for n in np.flatnonzero(keyed.any(axis=1)).tolist():
        thing = build.columns.objects[build.rows[n]]
        if reason := curves.hindrance(thing):
            skipped.append(Skipped(thing.name, reason))
            keyed[n] = False
            continue
        bag = actions.bag(thing)
        for channel in np.flatnonzero(keyed[n]).tolist():
            name, index = deltas.CHANNELS[channel]
            curves.put(bag, name, index, curves.Keys(frames, tables[:, n, channel]))
    moving = np.flatnonzero(keyed.any(axis=1))
    if len(moving):
        deltas.hold(build.columns, build.rows[moving], keyed[moving], Deltas.unpacked(tables[now, moving]))
    told = _write_travel(build, frames, shots, actions) if travel.any_told(build.objects) else 0
    return Written(len(moving), int(keyed.sum()) + told, tuple(skipped))


def _write_travel(build: Build, frames: np.ndarray, shots: Sequence[Deltas], actions: curves.Actions) -> int:
    """Keys how far bricks went, for the pass that tells it; how many curves that took."""
    ways = np.stack([travel.far(build, each) for each in shots])
    stands = np.array([thing.get(travel.MOTION, 0.0) for thing in build.objects], dtype=np.float32)
    free = [curves.hindrance(thing) == "" for thing in build.objects]
    keyed = np.flatnonzero((ways != stands).any(axis=0) & ~build.held & free)
    for n in keyed.tolist():
        curves.put(actions.bag(build.objects[n]), travel.PATH, 0, curves.Keys(frames, ways[:, n]))
    return len(keyed)


def _take_off(columns: Columns) -> None:
    """Takes our keys off objects; they stand as they did before."""
    shows = deltas.shown(columns)
    for thing in columns.objects:
        if thing.is_editable:
            curves.remove(thing)
    deltas.release(columns, shows)


def _frames(cuts: Sequence[float]) -> tuple[np.ndarray, int]:
    """When shots take over, as keys hold it, and the number of the one that is on now."""
    frames = np.array(cuts, dtype=np.float32)
    return frames, max(int(np.searchsorted(frames, context().scene.frame_current_final, side="right")) - 1, 0)


def _write_wear(scene: bpy.types.Scene, shots: Sequence[Worn]) -> Written:
    _unkey(scene)  # of another build: the last that is put on the timeline has the say
    frames, _ = _frames([shot.frame for shot in shots])
    wanted = {stamps.WEAR: _worn(shots)}
    for layer, name in stamps.MORE.items():
        factors = np.array([shot.layers.get(layer, 1.0) - 1.0 for shot in shots], dtype=np.float32)
        wanted[name] = curves.Keys(frames, factors)
    tables = {name: keys for name, keys in wanted.items() if (keys.values != np.float32(scene.get(name, 0.0))).any()}
    hindered, animated = curves.hindrance(scene), curves.artists_paths(scene)
    own = {name: "has this value animated or driven" if _path(name) in animated else hindered for name in tables}
    taken = {name: reason for name, reason in own.items() if reason}
    free = {name: keys for name, keys in tables.items() if name not in taken}
    if free:
        raw.put(scene, _STOOD, json.dumps({name: scene.get(name) for name in free}))
    actions = curves.Actions(curves.OF_WEAR)
    for name, keys in free.items():
        curve = curves.put(actions.bag(scene), _path(name), 0, keys)
        raw.put(scene, name, curve.evaluate(scene.frame_current_final))
    scene.update_tag()
    skipped = tuple(Skipped(f"{scene.name} {name}", reason) for name, reason in taken.items())
    return Written(0, len(free), skipped)


def _worn(shots: Sequence[Worn]) -> curves.Keys:
    """The keys of the wear over all."""
    frames, values, goes_on = [], [], []
    for shot, until in zip(shots, [*(other.frame for other in shots[1:]), inf], strict=True):
        times, runs = shot.wear.keys(shot.frame, until)
        frames += times
        values += shot.wear.at(np.array(times)).tolist()
        goes_on += runs
    return curves.Keys(np.array(frames, dtype=np.float32), np.array(values, dtype=np.float32), np.array(goes_on))


def _unkey(scene: bpy.types.Scene) -> None:
    if _STOOD not in scene:
        return
    curves.remove(scene)
    for name, value in _stood(scene).items():
        if value is not None:
            raw.put(scene, name, value)
        else:
            raw.drop(scene, name)
    raw.drop(scene, _STOOD)
    scene.update_tag()


def _stood(scene: bpy.types.Scene) -> dict[str, float | None]:
    """The values beneath our keys; none where another hand wrote them."""
    try:
        told = raw.said(raw.text(scene, _STOOD))
    except ValueError:
        told = None
    given = told.items() if isinstance(told, dict) else ()
    ours = (stamps.WEAR, *stamps.MORE.values())
    return {name: value for name, value in given if name in ours and isinstance(value, int | float | None)}


def _path(name: str) -> str:
    return f'["{name}"]'
