"""A new version of the build takes the old one's place: what is the same keeps its look, the rest is solved anew."""

from collections.abc import Generator
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np

from ...blender import context, mesh_of
from ...core import report, units
from ...core.pictures.difference import ADDED, KEPT, MOVED, RECOLOURED, YOURS, Difference, Updated, way
from ...core.slices import is_over, rest
from ...core.wear import quality as tiers
from ...core.wear.texture import WearImages
from ...scene import removal
from ...scene.attempt import Made, attempt
from ...scene.build import arrival, aside, before, inherited, looks, sign, state
from ...scene.build.build import Build, reading
from ...scene.build.renewal import Places, Wardrobe, bare, name_added, pose_of
from ...scene.columns import Columns
from ...scene.exports import importers
from ...scene.fit import hung
from ...scene.wear import handwork, images, originals, twins
from ..progress import Progress, Steps, done, part, quiet, share
from .comparison import Plan, comparing, with_waiting
from .settling import InShots, settle

_TAKING = "taking the old version's place"


def update(
    collection: bpy.types.Collection,
    path: Path,
    keep_objects: bool = False,
    progress: Progress = quiet,
    keep_alpha: bool = False,
) -> tuple[Updated, Difference]:
    """Brings the next version of an export into a build's place.

    Bricks that are the same keep their objects with all that is on them; removed ones wait hidden beside the build.
    """
    return done(updating(collection, path, keep_objects, keep_alpha), progress)


def updating(
    collection: bpy.types.Collection, path: Path, keep_objects: bool = False, keep_alpha: bool = False
) -> Steps[tuple[Updated, Difference]]:
    """The same step by step; closed at any of them, everything is as it was."""
    applied = state.recall(collection)
    yield 0.0, "reading the build"
    with attempt() as made:
        changed = yield from part(0.0, "reading the build", handwork.adopting(Columns(collection).objects))
        hung.adopt()
        old, waits = yield from part(0.05, "reading the build", with_waiting(collection))
        room, _ = yield from share(
            0.1, 0.45, path.name, importers.bringing(path, keep_objects, to_stay=False, keep_alpha=keep_alpha)
        )
        context().scene.collection.children.unlink(room)  # two versions in one place are nothing to look at
        came = yield from part(0.45, "reading the new version", reading(room))
        plan = yield from part(0.5, "comparing the versions", comparing(old, waits, came))
        rooms = {collection, *filter(None, [aside.room_of(collection)]), *aside.holding(plan.things)}
        yield from part(0.6, "keeping the old version", before.keeping_all(collection, list(rooms), plan.things))
        shots = InShots.lift(collection, plan)
        intact = yield from part(0.62, "looking what was touched", _intact(plan))
        fresh, gone, skipped = yield from part(0.64, _TAKING, _renewing(collection, room, plan, intact))
        yield 0.68, "letting go of the export"  # once windows know of the rest: see removal
        yield from part(0.68, "letting go of the export", removal.removing([*room.objects, room]))
        yield from part(0.68, "letting go of the export", rest())
        yield from part(0.68, "letting go of the export", _sweeping(made))
        # Before, they would be swept with what is not used.
        pictures = yield from part(0.69, "reading the textures", _pictures(applied, plan))
        yield from part(0.69, "marking the bricks", _marking(collection, plan, fresh))
        yield from part(0.69, "marking the bricks", sign.putting([*fresh, *intact]))
        context().view_layer.update()
        told = _told(collection, plan, fresh, skipped)
        if applied:
            told, now = yield from settle(collection, plan, fresh, applied, pictures, shots, told)
        else:
            now = yield from part(0.7, "reading the build", reading(collection))
        told = replace(told, skipped=tuple(dict.fromkeys((*changed, *told.skipped))))
        seen = _seen(now, plan, fresh)
        yield 0.95, "tidying up"  # the last moment to stop: from here all is done
    removal.remove(gone)
    aside.tidy(collection)
    twins.sweep()
    return told, seen


def _seen(now: Build, plan: Plan, fresh: list[bpy.types.Object]) -> Difference:
    """The build as it is now, brick by brick, and what is gone."""
    bricks, things = plan.old.bricks, plan.things
    became = dict.fromkeys(fresh, ADDED)
    became |= dict.fromkeys((things[n] for n in np.flatnonzero(plan.artists).tolist()), YOURS)
    for n in np.flatnonzero(~plan.gone & (plan.partner >= 0)).tolist():
        became[things[n]] = (
            ADDED if plan.waits[n] else MOVED if plan.moved[n] else RECOLOURED if plan.recoloured[n] else KEPT
        )
    all_of = tuple(became.get(thing, YOURS) for thing in now.objects)  # what new bricks hold was none of the build's
    return Difference(now.bricks, all_of, bricks.only(np.flatnonzero(plan.gone)))


def _pictures(applied: state.State | None, plan: Plan) -> Generator[None, None, WearImages | None]:
    """The pictures for materials that are new, as far as there are any, in parts."""
    if applied is None or all(plan.alike.values()):
        return None
    folder = Path(applied.textures) if applied.textures else None
    return (yield from images.finding(folder, tiers.named(applied.quality).fine, applied.uses))


def _intact(plan: Plan) -> Generator[None, None, set[bpy.types.Object]]:
    """Bricks of an earlier update that this one changes, and nobody has since; in parts."""
    changed = np.flatnonzero(plan.gone | plan.moved | plan.recoloured).tolist()
    return (yield from sign.finding_untouched(plan.things[n] for n in changed if bare(plan.old, n)))


def _renewing(
    collection: bpy.types.Collection, room: bpy.types.Collection, plan: Plan, intact: set[bpy.types.Object]
) -> Generator[None, None, tuple[list[bpy.types.Object], list[bpy.types.Object], tuple[report.Skipped, ...]]]:
    """The objects that came in, those that nobody will want back, and what could not follow the export; in parts."""
    old, new = plan.old, plan.new
    things, theirs = plan.things, new.objects
    yield from twins.taking_off(things)
    places, skipped = Places(old, plan.middle), []
    yield
    wardrobe = Wardrobe(things, looks.of(things), plan.alike)
    yield
    for n in np.flatnonzero(plan.recoloured).tolist():
        if reason := wardrobe.recolour(things[n], theirs[plan.partner[n]]):
            skipped.append(report.Skipped(things[n].name, reason))
        if is_over():
            yield
    fresh = [theirs[n] for n in plan.added.tolist()]
    for n, thing in zip(plan.added.tolist(), fresh, strict=True):
        _let_in(thing, n, plan, places, wardrobe)
        if is_over():
            yield
    for n in np.flatnonzero(plan.moved).tolist():
        if reason := places.move(n, plan.way[n], int(plan.turned[n])):
            skipped.append(report.Skipped(things[n].name, reason))
        if is_over():
            yield
    for thing in fresh:
        room.objects.unlink(thing)
        collection.objects.link(thing)
        if is_over():
            yield
    yield from aside.bringing_back(collection, [things[n] for n in np.flatnonzero(plan.back)])
    gone = yield from aside.putting(collection, [things[n] for n in np.flatnonzero(plan.gone)], intact)
    return fresh, gone, tuple(skipped)


def _let_in(thing: bpy.types.Object, n: int, plan: Plan, places: Places, wardrobe: Wardrobe) -> None:
    """Stands a new thing, brick n of the new version, in the old one's frame, beside its like where there is one."""
    kind = int(plan.kind[n])
    same, like = plan.example.get((kind, plan.colour[n])), plan.example.get(kind)
    mesh = None
    if same is not None:
        like, mesh = same, originals.original(mesh_of(plan.things[same]))
    elif like is not None:
        mesh = wardrobe.in_look_of(originals.original(mesh_of(plan.things[like])), thing)
    if like is not None and mesh is not None:
        thing.data = mesh
        places.put_beside(thing, like, plan.target[n])
        return
    wardrobe.dress(mesh_of(thing))
    pose, found = np.eye(4), plan.matching
    pose[:3, :3], pose[:3, 3] = found.turn.T, -found.turn.T @ found.shift
    places.stand(thing, pose @ pose_of(plan.new, n))


def _marking(
    collection: bpy.types.Collection, plan: Plan, fresh: list[bpy.types.Object]
) -> Generator[None, None, None]:
    """Lets everything say whether it is of the export; copies of what was say it no more. In parts."""
    mark, things = arrival.begin(collection), plan.things
    for n in np.flatnonzero((plan.partner >= 0) & ~plan.artists).tolist():
        if not arrival.is_known(things[n]):
            arrival.keep([things[n]], mark)
        if is_over():
            yield
    for n in np.flatnonzero(plan.artists).tolist():
        arrival.forget(things[n])
        sign.forget(things[n])
        inherited.forget_home(things[n])
    for thing in fresh:
        name_added(thing, mark)  # sooner, each would pass all names of the export on its way
        if is_over():
            yield


def _sweeping(made: Made) -> Generator[None, None, None]:
    """Removes what came with the export and is not used, in parts."""
    while unused := [block for block in made.blocks() if not block.users and not block.use_fake_user]:
        yield from removal.removing(unused)


def _told(
    collection: bpy.types.Collection, plan: Plan, fresh: list[bpy.types.Object], skipped: tuple[report.Skipped, ...]
) -> Updated:
    names, told = plan.old.bricks.names, []
    moved, found = plan.moved, plan.matching
    for n in np.flatnonzero(moved).tolist():
        turned = f" and turned by {90 * plan.turned[n]}°" if plan.turned[n] else ""
        told.append(report.Skipped(names[n], f"went {way(plan.way[n])}{turned}"))
    told += [report.Skipped(names[n], "has another colour") for n in np.flatnonzero(plan.recoloured)]
    told += [report.Skipped(thing.name, "is new") for thing in fresh]
    told += [report.Skipped(names[n], "is there again") for n in np.flatnonzero(plan.back)]
    told += [report.Skipped(names[n], "is gone") for n in np.flatnonzero(plan.gone)]
    told += [
        report.Skipped(
            names[n], "is yours and stays" if plan.partner[n] < 0 else "is yours, where a new one would stand"
        )
        for n in np.flatnonzero(plan.artists)
    ]
    kept = (plan.partner >= 0) & ~plan.waits & ~moved & ~plan.recoloured
    return Updated(
        build=collection.name,
        bricks=len(plan.new.bricks),
        kept=int(kept.sum()),
        moved=int(moved.sum()),
        recoloured=int((plan.recoloured & ~moved).sum()),
        added=len(fresh) + int(plan.back.sum()),
        removed=int(plan.gone.sum()),
        solved=0,
        resat=0,
        cut=0,
        origin_mm=tuple((np.round(found.shift, 3) + 0.0).tolist()),
        turned_deg=int(units.degrees(np.arctan2(found.turn[1, 0], found.turn[0, 0])).round()) % 360,
        changes=tuple(told),
        skipped=skipped,
        yours=int((plan.artists & (plan.partner < 0)).sum()),
    )
