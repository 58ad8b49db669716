"""What a build reads as in each shot, and a shot's own dials."""

from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import bpy
import numpy as np

from ... import atomic
from ...core.errors import ShotProblem
from ...core.fit import fit
from ...core.fit.motions import Motions
from ...core.pictures import chart
from ...core.presets.preset import Preset, left_over
from ...core.shots import reading
from ...core.shots import sharpness as edges
from ...core.shots import shot as rules
from ...core.shots.grain import grain
from ...core.shots.lens import Lens
from ...core.shots.plate import Plate
from ...core.shots.reading import OFF_STUD_PX, Marks, Reading, View
from ...core.shots.shot import Shot, Solved
from ...core.shots.sight import Sight
from ...core.wear import cielab
from ...core.wear.layers import LAYERS
from ...nodes.pictures import pictures as pictures_in
from ...scene.build import state
from ...scene.build.build import Build, read
from ...scene.fit import motion
from ...scene.shots import keys, lenses, plates, props
from ...scene.shots import shots as kept
from ...scene.wear import marks, slots
from ..wear import dials as turned


@dataclass(frozen=True)
class ReadsAs:
    """A shot and what it reads as on each frame it was measured at."""

    shot: Shot
    frames: tuple[Reading, ...]
    motions_px: np.ndarray  # (M,) motion in pixels of every brick seen, frame by frame


def list_shots(scene: bpy.types.Scene) -> tuple[Shot, ...]:
    """The shots kept in the file, else what its timeline says."""
    return kept.recall(scene) or kept.found(scene)


def find_shots(scene: bpy.types.Scene) -> tuple[Shot, ...]:
    """Finds the shots anew on the timeline and keeps them: dials, lock and note stay by name, shots made by hand and
    locked ones stay, as far as they can be read."""
    there: tuple[Shot, ...] = ()
    with suppress(kept.Unread):
        there = kept.recall(scene)
    found = rules.found_anew(there, kept.found(scene))
    if not found:
        raise ShotProblem(f'the scene "{scene.name}" has no camera: add one, or bind cameras to markers')
    kept.keep(scene, found)
    return found


def dial_shots(scene: bpy.types.Scene, changes: Mapping[tuple[str, str], float]) -> tuple[Shot, ...]:
    """Sets dials, each named by shot and dial, and keeps the shots; all or none. ShotProblem where one is locked."""
    now = rules.turned(list_shots(scene), changes)
    kept.keep(scene, now)
    return now


def copy_dials(scene: bpy.types.Scene, name: str, to: Collection[str]) -> None:
    """Gives the dials of a shot to others; all or none. ShotProblem where one of them is locked."""
    kept.keep(scene, rules.copied(list_shots(scene), name, to))


def set_shot(scene: bpy.types.Scene, name: str, setting: str) -> None:
    """Turns a shot to one of its two settings; the dials of the other are kept. ShotProblem where it is locked."""
    kept.keep(scene, rules.changed(list_shots(scene), name, lambda shot: rules.set_to(shot, setting)))


def lock_shot(scene: bpy.types.Scene, name: str, locked: bool = True) -> None:
    """Locks a shot, so that its dials stay as they are, or unlocks it."""
    kept.keep(scene, rules.changed(list_shots(scene), name, lambda shot: replace(shot, locked=locked)))


def grow_shot(scene: bpy.types.Scene, name: str, to: float | None) -> None:
    """Lets the wear of a shot grow from its dial's value at the first frame to another at its last; None lets it stay.
    ShotProblem where it is locked."""
    kept.keep(scene, rules.changed(list_shots(scene), name, lambda shot: rules.grown(shot, to)))


def note_shot(scene: bpy.types.Scene, name: str, words: str) -> None:
    """Keeps an artist's words on a shot, in one line, in place of those that were there; "" takes them off."""
    note = " ".join(words.split())
    kept.keep(scene, rules.changed(list_shots(scene), name, lambda shot: replace(shot, note=note)))


def add_shot(scene: bpy.types.Scene, shot: Shot) -> tuple[Shot, ...]:
    """Keeps one more shot, made by hand."""
    now = rules.checked([*list_shots(scene), replace(shot, by_hand=True)])
    kept.keep(scene, now)
    return now


def remove_shot(scene: bpy.types.Scene, name: str) -> tuple[Shot, ...]:
    """Takes one shot and its dials out; without any left, the shots are what the timeline says. A locked one stays."""
    shots = list_shots(scene)
    gone = rules.unlocked(rules.named(shots, name))
    if left := [shot for shot in shots if shot is not gone]:
        kept.keep(scene, left)
    else:
        kept.forget(scene)
    return list_shots(scene)


def keep_shots(scene: bpy.types.Scene) -> tuple[Shot, ...]:
    """Keeps the shots in the file as they are, found ones too."""
    now = list_shots(scene)
    kept.keep(scene, now)
    return now


def forget_shots(scene: bpy.types.Scene) -> int:
    """Takes the shots and their dials out of the file; how many there were. ShotProblem where one is locked."""
    with suppress(kept.Unread):
        for shot in kept.recall(scene):
            rules.unlocked(shot)
    return kept.forget(scene)


def for_shot(shot: Shot, preset: Preset, dials: turned.Dials) -> tuple[Preset, turned.Dials]:
    """The preset and dials that a build wears in a file made for one shot alone; what of a layer a preset cannot hold,
    its dial goes on with."""
    own = shot.dials
    left = left_over(preset, 1.0, {layer: getattr(own, layer) for layer in LAYERS})
    further = {layer: min(factor, turned.MOST) for layer, factor in turned.over(dials.layers, left).items()}
    return rules.over(own, preset), replace(
        dials,
        seed=(dials.seed + own.seed) % (turned.LARGEST_SEED + 1),
        looseness=min(dials.looseness * own.looseness, turned.MOST),
        wear=min(dials.wear * own.wear, turned.MOST),
        layers=further,
    )


def reads_as(
    collection: bpy.types.Collection,
    scene: bpy.types.Scene,
    chosen: Iterable[Shot],
    frame: int | None = None,
    most_px: float = OFF_STUD_PX,
) -> tuple[ReadsAs, ...]:
    """What a build reads as in some shots, at one frame or at the first, middle and last of each; nothing is changed.

    A shot with dials of its own is measured as it would be with them, any other as the bricks stand.
    """
    measuring = _Measuring(collection, scene)
    return tuple(measuring.reads_as(shot, frame, most_px) for shot in chosen)


def dial_to(
    collection: bpy.types.Collection, scene: bpy.types.Scene, shot: Shot, target_px: float, frame: int | None = None
) -> tuple[Shot, Solved]:
    """The shot with the looseness at which the median motion of the bricks seen comes nearest to a target; kept by
    nobody yet."""
    if not 0.0 < target_px < 1000.0:
        raise ShotProblem(f"the target is {target_px:g} px: give a number of pixels above 0 and below 1000")
    rules.unlocked(shot)
    measuring = _Measuring(collection, scene)
    now = measuring.applied
    if now is None:
        raise ShotProblem(f'no preset is on the build "{collection.name}": apply one, then dial the shot to a target')
    if not now.looseness:
        raise ShotProblem("the build's looseness is 0, so no shot can loosen it: give it some first")
    views = measuring.views(shot, frame)
    if not any(len(view.seen) for view in views):
        raise ShotProblem(
            f'the shot "{shot.name}" shows no brick of the build: check its camera, its clipping and its frames'
        )

    def median_px(looseness: float) -> float:
        loose = replace(shot, dials=replace(shot.dials, looseness=looseness))
        return float(np.median(np.concatenate(measuring.motions_px(loose, views))))

    found = rules.solved(target_px, median_px, min(rules.MOST, turned.MOST / now.looseness))
    return replace(shot, dials=replace(shot.dials, looseness=found.dial)), found


def round_to(
    collection: bpy.types.Collection, scene: bpy.types.Scene, shot: Shot, target_px: float, frame: int | None = None
) -> tuple[Shot, Solved]:
    """The shot with as much rounding as the edge radius needs to read as a target at least; more than that stays.

    The preset's own range and the dial's end it. Kept by nobody yet.
    """
    if not 0.0 < target_px < 1000.0:
        raise ShotProblem(f"the target is {target_px:g} px: give a number of pixels above 0 and below 1000")
    rules.unlocked(shot)
    reads = _rounding_px(collection, scene, shot, frame)
    if reads >= target_px:
        return shot, Solved(shot.dials.rounding, reads, True)
    plain = _rounding_px(collection, scene, replace(shot, dials=replace(shot.dials, rounding=1.0)), frame)
    if plain <= 0.0:
        raise ShotProblem(f'the shot "{shot.name}" shows no rounded edge: apply a preset with rounding, or aim at it')
    found = replace(shot, dials=replace(shot.dials, rounding=min(target_px / plain, rules.MOST)))
    reads = _rounding_px(collection, scene, found, frame)
    return found, Solved(found.dials.rounding, reads, reads >= (1.0 - rules.CLOSE) * target_px)


def _rounding_px(collection: bpy.types.Collection, scene: bpy.types.Scene, shot: Shot, frame: int | None) -> float:
    return float(np.median([each.rounding_px for each in reads_as(collection, scene, [shot], frame)[0].frames]))


def look_at_plate(path: Path) -> Plate:
    """How sharp and how grainy a photographed plate is; FileProblem where it cannot be read."""
    colours = plates.colours(path)
    return Plate(path.name, colours.shape[1], edges.sharpness(cielab.luminance(colours)), grain(colours))


def lost_on_plate(plate: Plate, scene: bpy.types.Scene, told: ReadsAs) -> tuple[str, ...]:
    """Which marks of a shot its plate could not show where they read as widest; a sentence each."""
    widest: dict[str, float] = {}
    for frame in told.frames:
        for name, width in {**frame.marks_px, "rounded edges": frame.rounding_px}.items():
            widest[name] = max(width, widest.get(name, 0.0))
    return plate.lost(widest, scene.render.resolution_x * scene.render.resolution_percentage / 100.0)


def save_chart(told: Iterable[ReadsAs], path: Path) -> None:
    """Draws how the motions of each shot are spread, in pixels, as an SVG file."""
    atomic.write_text(path, chart.motions([(each.shot.name, each.motions_px) for each in told], OFF_STUD_PX))


class _Measuring:
    """A build read once, looked at through any number of shots."""

    def __init__(self, collection: bpy.types.Collection, scene: bpy.types.Scene):
        self.scene = scene
        self.build: Build = read(collection)
        self.applied = state.recall(collection)
        self.standing = motion.measured(self.build)
        self.is_keyed = bool(keys.shots_of(collection))  # then they stand as the shot of this frame
        self._views: dict[Lens, View] = {}  # by lens: a camera that stands still is looked through once

    def reads_as(self, shot: Shot, frame: int | None, most_px: float) -> ReadsAs:
        views = self.views(shot, frame)
        ways = self.motions_px(shot, views)
        marks_of, bricks = self._marks(shot), self.build.bricks
        told = tuple(
            reading.reading(bricks, way, view, self._rounding_mm(shot, view.frame), marks_of, most_px)
            for way, view in zip(ways, views, strict=True)
        )
        return ReadsAs(shot, told, np.concatenate(ways))

    def motions_px(self, shot: Shot, views: tuple[View, ...]) -> list[np.ndarray]:
        motions = self._motions(shot)
        return [reading.motions_px(self.build.bricks, motions, view) for view in views]

    def views(self, shot: Shot, frame: int | None) -> tuple[View, ...]:
        """The views of a shot, those of one lens once where nothing else is another."""
        camera = kept.camera(self.scene, shot)
        frames = shot.frames if frame is None else (frame,)
        differ = self._props_move or shot.dials.wear_last is not None
        if lenses.is_still(self.build, self.scene, camera) and not self._props_move:  # going there takes longer
            lens = lenses.lens(self.build, self.scene, camera)
            return tuple(self._view(number, lens) for number in (frames if differ else frames[:1]))
        found: dict[tuple[Lens, int], View] = {}
        with lenses.on_frames(self.scene):
            for number in frames:
                if self.scene.frame_current != number or self.scene.frame_subframe:
                    self.scene.frame_set(number)
                lens = lenses.lens(self.build, self.scene, camera)
                as_then = lens, number if differ else 0
                if as_then not in found:
                    found[as_then] = self._view(number, lens)
        return tuple(found.values())

    def _view(self, frame: int, lens: Lens) -> View:
        if self._props_move:
            return Sight(self.build.bricks, props.faces(self.build)).view(frame, lens)
        if lens not in self._views:
            self._views[lens] = self._sight.view(frame, lens)
        return replace(self._views[lens], frame=frame)

    @cached_property
    def _props_move(self) -> bool:
        return props.may_move(self.build, self.scene)

    @cached_property
    def _sight(self) -> Sight:
        return Sight(self.build.bricks, props.faces(self.build))

    def _motions(self, shot: Shot) -> Motions:
        if self.applied is None or (shot.dials.moves_as(rules.INHERITED) and not self.is_keyed):
            return self.standing
        now = turned.Dials(self.applied.seed, self.applied.looseness)
        preset, own = for_shot(shot, self.applied.preset, now)
        return fit.fitted(
            self.build.bricks, preset.fit, own.seed, own.looseness, self.build.held, self.applied.budget
        ).motions

    def _rounding_mm(self, shot: Shot, frame: int) -> float:
        """The edge radius as the shot has it on a frame."""
        if self.applied is None:
            return 0.0
        share = min(float(shot.growth(self.applied.wear).at(frame)), 1.0)  # a radius never grows past the mould
        return rules.over(shot.dials, self.applied.preset).wear.rounding_mm * share

    def _marks(self, shot: Shot) -> dict[str, Marks]:
        """The textures at their real sizes, as the shot has them."""
        if self.applied is None:
            return {}
        return marks.marks_of(self._pictures, rules.over(shot.dials, self.applied.preset).wear)

    @cached_property
    def _pictures(self) -> dict[bpy.types.Image, str]:
        return pictures_in(slots.materials(self.build.objects))
