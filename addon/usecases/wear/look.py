"""Putting a look on a build, turning its dials, and taking it off again."""

from collections.abc import Generator, Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import replace
from functools import partial
from typing import Any

import bpy
import numpy as np

from ...core import report
from ...core.errors import BuildProblem
from ...core.fit import fit, leeway, summary
from ...core.presets.preset import Preset
from ...core.slices import rest, sliced, whole
from ...core.wear import quality as tiers
from ...core.wear.placement.placement import Placement
from ...core.wear.story import stood
from ...core.wear.texture import WearImages
from ...nodes import attach as wear
from ...nodes import places, seals, sizes, window
from ...nodes.plain import plain
from ...scene.attempt import attempt
from ...scene.build import builds, pins, state, strays
from ...scene.build.build import Build, read, reading
from ...scene.columns import Columns
from ...scene.fit import deltas, hung, motion, stances, travel
from ...scene.shots import keys, passes
from ...scene.wear import handwork, images, slots, stamps, twins
from ...scene.wear import places as spheres
from ...transaction import transaction
from ..progress import Progress, Steps, done, part, quiet
from .dials import MOST, Dials, over
from .textures import texture_uses

CHANGED = "was changed by hand, and is as Playworn makes it again"


def apply(collection: bpy.types.Collection, preset: Preset, dials: Dials, progress: Progress = quiet) -> report.Applied:
    """Puts a preset on a build: bricks moved, materials worn. What was on it before is replaced, never added to."""
    return done(applying(collection, preset, dials), progress)


def applying(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> Steps[report.Applied]:
    """The same step by step; closed at any of them, everything is as it was."""
    with transaction():
        adopting = handwork.adopting(Columns(collection).objects)
        changed = yield from part(0.0, "reading the build", adopting)
        hung.adopt()
        return _with(changed, (yield from _applying(collection, preset, dials)))


def _applying(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> Steps[report.Applied]:
    used = texture_uses(dials.textures, dials.uses)
    build = yield from part(0.0, "reading the build", reading(collection))
    sits = yield from part(0.1, "fitting the bricks", sliced(partial(_fitted, build, preset, dials)))
    far = partial(leeway.takes, build.bricks, preset.fit, build.held)
    takes = yield from part(0.25, "looking how far the dial goes", sliced(far))
    placement = yield from part(
        0.28, "looking where hands and dust get to", sliced(partial(_stood, build, preset, dials))
    )
    with attempt():
        quality = tiers.named(dials.quality)
        found = images.finding(dials.textures, quality.fine, dials.uses)
        pictures = yield from part(0.3, "reading the textures", found)
        words = "rounding the meshes" if dials.rounding == tiers.GEOMETRY else "reading the materials"
        round_ones = yield from part(0.5, words, _rounding(build, preset, dials, sits.motions.shrink))
        yield 0.6, "taking off what was on"
        _let_go(build)
        yield from part(0.6, "taking off what was on", twins.taking_off(build.objects))
        if round_ones.rounded.any():
            quality = quality.on_meshes(round_ones.are_all)
        yield 0.65, "wearing the materials"
        worn, unworn = yield from part(0.65, "wearing the materials", _wear(build, preset, pictures, quality))
        yield 0.8, "moving the bricks"
        shots_off = keys.remove(collection)
        yield from part(0.8, "moving the bricks", twins.putting_on(build, round_ones))
        yield 0.8, "moving the bricks"
        left_alone = build.left_out + motion.write(build, sits.motions) + round_ones.skipped
        travel.follow(build)
        yield from part(0.85, "stamping the bricks", stamps.writing(build))
        yield from part(0.85, "stamping the bricks", stamps.placing(build, placement))
        window.lay(stamps.any_lit())
        _remember(collection, preset, dials, *_by_hand(build), build.lattice.mm_per_unit)
        yield from part(0.9, "tidying up", rest())  # the last moment to stop
    told = summary.applied(
        collection.name, preset, dials, build.bricks, sits, build.held, worn, left_alone + unworn, used
    )
    return replace(told, shots_off=shots_off, takes=takes)


def dial(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> report.Applied:
    """Turns the dials of a build that a preset is already on: its bricks and the wear over all, no material."""
    with transaction():
        changed = handwork.adopt(Columns(collection).objects)
        hung.adopt()
        return _with(changed, _dialled(collection, preset, dials))


def _dialled(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> report.Applied:
    build = read(collection)
    deltas.as_read(build.columns, build.bare)
    sits = _fitted(build, preset, dials)
    alike = _is_moulded_alike(state.recall(collection), preset)
    with nullcontext() if alike else attempt():
        shots_off = keys.remove(collection)
        if not alike:
            _show_twins(build, preset, dials, sits.motions.shrink)
        left_alone = build.left_out + motion.write(build, sits.motions)
        travel.follow(build)
        _remember(collection, preset, dials, *_by_hand(build), build.lattice.mm_per_unit)
    told = summary.applied(collection.name, preset, dials, build.bricks, sits, build.held, 0, left_alone)
    return replace(told, shots_off=shots_off, takes=leeway.known(build.bricks, preset.fit, build.held))


def _with(changed: tuple[report.Skipped, ...], told: report.Applied) -> report.Applied:
    """A report that tells of the bricks whose meshes an artist changed, too."""
    return replace(told, skipped=tuple(dict.fromkeys((*changed, *told.skipped))))


def dial_wear(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> None:
    """Turns the wear over all, each layer, the sizes of their pictures and the story, and nothing else; shots on the
    timeline keep their share of it."""
    before, keyed = state.recall(collection), keys.shots_of(collection)
    with transaction():
        sizes.give(slots.materials(Columns(collection).objects), preset.wear)
        if before and before.preset.story != preset.story:
            handwork.adopt(Columns(collection).objects)
            hung.adopt()
            build = read(collection)
            whole(stamps.placing(build, _stood(build, preset, dials)))
        if keyed:
            keys.unwear(collection)
        _remember(collection, preset, dials, *((before.pinned, before.rolled) if before else ()))
        if keyed and before:
            told = [_rewear(shot, before.wear, dials.wear) for shot in keyed]
            worn = [
                keys.Worn(cut, keys.growth(each), over(dials.layers, each["layers"]))
                for cut, each in zip(keys.cuts_of(collection), told, strict=True)
            ]
            keys.rewear(collection, worn, told)


def _rewear(shot: dict[str, Any], before: float, now: float) -> dict[str, Any]:
    """A shot on the timeline once the build's wear is turned; one that did not tell its share of it keeps the ratio."""
    share = shot.get("wear_share", shot["wear"] / before if before else 1.0)
    grows = {keys.GROWS: _rewear(shot[keys.GROWS], before, now)} if shot.get(keys.GROWS) else {}
    return {**shot, "wear": min(share * now, MOST), **grows}


def clear(collection: bpy.types.Collection) -> report.Cleared:
    """Takes everything out of a build that a preset put on it, bit for bit, off bricks that have left it too."""
    return whole(clearing(collection))


def clearing(collection: bpy.types.Collection) -> Steps[report.Cleared]:
    """The same step by step; closed at any of them, everything is as it was."""
    if not state.is_marked(collection):
        raise BuildProblem(f'there is nothing to clear: no preset is on the build "{collection.name}"{_elsewhere()}')
    if collection.library:
        raise BuildProblem(
            f'the build "{collection.name}" is linked from another file: clear it there, or make it local'
        )
    with transaction():
        yield 0.0, "taking the keys off"
        hung.adopt()
        keys.remove(collection)
        columns = Columns(None)
        rows, left = strays.rows(collection, columns)
        things = columns.some(rows)
        keys.remove_from(things)  # of another build, which they came from or have left
        yield 0.1, "moving the bricks back"
        changed = yield from part(0.1, "moving the bricks back", twins.letting_go(things))
        restored = yield from part(0.2, "moving the bricks back", deltas.restoring(columns, rows))
        yield from part(0.3, "taking the stamps off", stamps.clearing(things))
        travel.forget(things)
        state.forget(collection)
        stances.forget(collection, things)
        given_back = yield from part(0.5, "taking the wear off", _unwear(state.marked()))
        yield from part(0.8, "giving the slots back", slots.giving_back(things))
        needed = {scene for other in state.marked() for scene in builds.scenes_showing(other)}
        for scene in bpy.data.scenes:
            if not scene.library and scene not in needed:
                stamps.clear_wear(scene)
                passes.take_off(scene)
        yield from part(0.95, "tidying up", rest())  # the last moment to stop
    return report.Cleared(collection.name, len(restored.back), given_back, len(left), staying(restored), changed)


class _Back(Exception):
    """Ends a transaction of which everything is to come back."""


@contextmanager
def cleared(collection: bpy.types.Collection) -> Iterator[None]:
    """Within, nothing of a preset is on the build; then everything is as it was before."""
    with suppress(_Back), transaction():
        clear(collection)
        yield
        raise _Back


def staying(restored: deltas.Restored) -> tuple[report.Skipped, ...]:
    """The bricks that our deltas could not be taken off, each with the reason."""
    reasons = ((restored.applied, report.APPLIED), (restored.keyed, report.KEYED))
    return tuple(report.Skipped(thing.name, reason) for things, reason in reasons for thing in things)


def _elsewhere() -> str:
    """That bricks without a build are worn, as the end of a sentence; "" where none are."""
    count = len(strays.without_build(Columns(None)))
    return (
        f"; {count} bricks outside of builds are still worn: clear everything of Playworn in the file" if count else ""
    )


def _let_go(build: Build) -> None:
    """Takes all of an earlier look off what is no brick of the build any more."""
    worn = [row for row in build.strangers if stamps.SHARE in build.columns.objects[row]]
    if worn:
        things = [build.columns.objects[row] for row in worn]
        twins.let_go(things)
        deltas.restore(build.columns, np.array(worn))
        stamps.clear(things)
        slots.give_back(things)


def _fitted(build: Build, preset: Preset, dials: Dials) -> fit.Fitted:
    return fit.fitted(build.bricks, preset.fit, dials.seed, dials.looseness, build.held, dials.budget)


def _stood(build: Build, preset: Preset, dials: Dials) -> Placement:
    return stood(build.bricks, preset.story, dials.window_deg, dials.wall_deg)


def _rounding(build: Build, preset: Preset, dials: Dials, shrink: np.ndarray) -> Generator[None, None, twins.Twins]:
    """The rounded meshes that the dials ask for; what cannot be moved has no clearance either."""
    radius = preset.wear.rounding_mm if dials.rounding == tiers.GEOMETRY else 0.0
    if radius <= 0.0:
        return twins.Twins([None] * len(build.objects), ())
    shrink = np.where(build.held[:, None], 1.0, shrink)
    return (yield from twins.making(build, shrink, preset.fit.play_mm, radius))


def _show_twins(build: Build, preset: Preset, dials: Dials, shrink: np.ndarray) -> None:
    """Lets the bricks show the rounded meshes that the dials ask for, in place of those that they show."""
    made = whole(_rounding(build, preset, dials, shrink))
    twins.take_off(build.objects)
    twins.put_on(build, made)


def _is_moulded_alike(before: state.State | None, preset: Preset) -> bool:
    """Whether twins made for what was on the build before would come out the same now."""
    if before is None or before.rounding != tiers.GEOMETRY:
        return True
    was = before.preset
    alike = was.fit.clearance_mm == preset.fit.clearance_mm and was.fit.play_mm == preset.fit.play_mm
    return alike and was.wear.rounding_mm == preset.wear.rounding_mm


def _by_hand(build: Build) -> tuple[int, int]:
    """How many bricks are pinned, and how often bricks were drawn anew."""
    rolled = 0 if build.bricks.roll is None else int(build.bricks.roll.sum())
    return sum(reason == pins.REASON for reason in build.fixed.values()), rolled


def _remember(
    collection: bpy.types.Collection,
    preset: Preset,
    dials: Dials,
    pinned: int = 0,
    rolled: int = 0,
    mm: float | None = None,
) -> None:
    before = state.recall(collection)
    are_turned = dials.layers or (before and before.layers)  # else what is there is another hand's
    for scene in builds.scenes_showing(collection):
        stamps.set_wear(scene, dials.wear)
        if are_turned:
            stamps.set_layers(scene, dials.layers)
    textures = str(dials.textures) if dials.textures else ""
    kept = state.State(
        preset,
        dials.seed,
        dials.looseness,
        dials.wear,
        textures,
        dials.quality,
        dials.rounding,
        pinned,
        rolled,
        dials.budget,
        dials.layers,
        dials.window_deg,
        dials.wall_deg,
        dials.uses,
    )
    state.remember(collection, kept, mm)


def _wear(
    build: Build, preset: Preset, pictures: WearImages, quality: tiers.Quality
) -> Generator[None, None, tuple[int, tuple[report.Skipped, ...]]]:
    """Wears the materials of a build, where bricks have none gives them some; how many, and what is left alone."""
    bare = yield from slots.filling(build.objects, plain)
    changed = tuple(report.Skipped(name, CHANGED) for name in seals.set_broken_apart())
    yield
    materials = slots.materials(build.objects)
    unworn = yield from wear.attaching(materials, preset.wear, pictures, 1.0 / build.mm_per_world_unit, quality)
    places.lay(spheres.in_file())
    return sum(map(wear.is_attached, materials)), changed + bare + unworn + _shared(build, preset, materials)


def _shared(build: Build, preset: Preset, materials: list[bpy.types.Material]) -> tuple[report.Skipped, ...]:
    """The materials that another build with another wear shows too: a material can show one only."""
    told = []
    for other in state.marked():
        if other != build.collection and (look := state.recall(other)) and look.preset.wear != preset.wear:
            reason = f'is on the build "{other.name}" too, which shows this wear with it: give each a copy'
            theirs = set(slots.materials(Columns(other).objects))
            told += [report.Skipped(one.name, reason) for one in materials if one in theirs and wear.is_attached(one)]
    return tuple(told)


def _unwear(others: list[bpy.types.Collection]) -> Generator[None, None, int]:
    """Takes the wear out of every material of this file that no other build needs; how many there were."""
    needed = dict.fromkeys(slots.materials(thing for other in others for thing in Columns(other).objects))
    local = [one for one in bpy.data.materials if one not in needed and not one.library]
    worn = [one for one in local if wear.is_attached(one)]
    yield from wear.detaching(worn, keep=needed)
    return len(worn)
