"""A new version of the build takes the old one's place: what is the same keeps its look, the rest is solved anew."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..core import contacts, fit, report
from ..core import quality as tiers
from ..core.difference import ADDED, KEPT, MOVED, RECOLOURED, Difference, Updated, way
from ..core.draws import mixed
from ..core.matching import QUARTERS, Matching, Version, Where, match
from ..core.refit import REACH, parted, reached, refitted
from ..core.texture import WearImages
from ..nodes import attach as wear
from ..nodes.plain import plain
from ..scene import (
    aside,
    images,
    importers,
    inherited,
    keys,
    looks,
    motion,
    slots,
    stamps,
    state,
    twins,
    versions,
)
from ..scene.attempt import Made, attempt
from ..scene.build import Build, read
from ..scene.renewal import Places, Wardrobe, bare, name_added, pose_of
from .dials import Dials
from .progress import Progress, quiet
from .timeline import OnFrame, on_timeline

_REACH = "playworn_reach"  # on a build: contacts from a change that an update had to go


@dataclass(frozen=True)
class _Plan:
    """Which of the old bricks (U,), waiting ones among them, is which of the new ones."""

    old: Build
    new: Build
    matching: Matching
    waits: np.ndarray  # (U,) whether it was removed in an earlier update
    middle: np.ndarray  # (U, 3) in the old frame
    target: np.ndarray  # (B, 3) the same of the new ones
    partner: np.ndarray  # (U,) new brick, -1 for none
    way: np.ndarray  # (U, 3) mm
    turned: np.ndarray  # (U,) quarters
    alone: np.ndarray  # (U,) moved, and not with a section
    recoloured: np.ndarray  # (U,)
    example: dict  # (kind, colour) or kind of bricks -> old brick in whose place others may stand
    kind: np.ndarray  # (B,)
    colour: list[int]  # (B,)
    alike: dict  # the export's material -> the old version's

    @property
    def added(self) -> np.ndarray:
        return np.setdiff1d(np.arange(len(self.new.bricks)), self.partner)

    @property
    def moved(self) -> np.ndarray:
        return (self.partner >= 0) & ~self.waits & (self.way.any(axis=1) | (self.turned > 0))

    @property
    def back(self) -> np.ndarray:
        """(U,) which waited and are there again."""
        return self.waits & (self.partner >= 0)

    @property
    def gone(self) -> np.ndarray:
        return ~self.waits & (self.partner < 0)


def update(
    collection: bpy.types.Collection, path: Path, keep_objects: bool = False, progress: Progress = quiet
) -> tuple[Updated, Difference]:
    """Brings the next version of an export into a build's place.

    Bricks that are the same keep their objects with all that is on them; removed ones wait hidden beside the build.
    """
    applied = state.recall(collection)
    progress(0.0, "reading the build")
    with attempt() as made:
        old, waits = _with_waiting(collection)
        progress(0.1, f"reading {path.name}")
        for _ in importers.trying(path):
            progress(0.1, f"trying {path.name}")
        room, _ = importers.bring(path, keep_objects, tried=True, shared=False)
        progress(0.5, "comparing the versions")
        plan = _planned(old, waits, read(room))
        pictures = _pictures(applied, plan)
        progress(0.7, "taking the old version's place")  # the last moment to stop: from here all is done
    shots = keys.shots_of(collection)
    keys.remove(collection)
    fresh, skipped = _renewed(collection, room, plan, made)
    told = _told(collection, plan, fresh, skipped)
    if applied:
        told = _fitted(collection, plan, fresh, applied, pictures, told)
        if shots:
            again = on_timeline(collection, [_on_frame(shot) for shot in shots])
            told = replace(told, shots=again.shots)
    progress(1.0, "done")
    return told, _seen(collection, plan, fresh)


def _seen(collection: bpy.types.Collection, plan: _Plan, fresh: list[bpy.types.Object]) -> Difference:
    """The build as it is now, brick by brick, and what is gone."""
    bricks, things = plan.old.bricks, plan.old.objects
    now = read(collection)
    became = dict.fromkeys(fresh, ADDED)
    for n in np.flatnonzero(~plan.gone & (plan.partner >= 0)).tolist():
        became[things[n]] = (
            ADDED if plan.waits[n] else MOVED if plan.moved[n] else RECOLOURED if plan.recoloured[n] else KEPT
        )
    return Difference(now.bricks, tuple(became[thing] for thing in now.objects), bricks.only(np.flatnonzero(plan.gone)))


def _with_waiting(collection: bpy.types.Collection) -> tuple[Build, np.ndarray]:
    """The build together with the bricks that an earlier update took out of it, and which (U,) these are."""
    room = aside.room_of(collection)
    if room is None:
        old = read(collection)
        return old, np.zeros(len(old.bricks), dtype=bool)
    collection.children.link(room)
    try:
        old = read(collection)
    finally:
        collection.children.unlink(room)
    inside = set(room.objects)
    return old, np.array([thing in inside for thing in old.objects])


def _planned(old: Build, waits: np.ndarray, new: Build) -> _Plan:
    a, b, alike = looks.numbered(looks.of(old.objects), looks.of(new.objects))
    before, after = versions.seen(old, a), versions.seen(new, b)
    here = np.flatnonzero(~waits)
    found = _first_again(old, before, after) or _next(before, after, here)
    partner, section, target = found.partner, found.section, found.back(after.moments)
    paired, count = partner >= 0, len(old.bricks)
    recoloured = np.zeros(count, dtype=bool)
    recoloured[paired] = before.colour[paired] != after.colour[partner[paired]]
    example: dict = {}
    for n, kind in zip(here.tolist(), found.old_kind[here].tolist(), strict=True):
        if kind not in example or (kind, a[n]) not in example:
            if not bare(old, n):
                continue
            example.setdefault(kind, n)
            example.setdefault((kind, a[n]), n)
    return _Plan(
        old, new, found, waits, before.place, target.middle, partner, found.way, found.turned,
        (section < 0) & (partner >= 0), recoloured, example, found.new_kind, b, alike,
    )  # fmt: skip


def _next(before: Version, after: Version, here: np.ndarray) -> Matching:
    """Which brick of the next version is which; those of the old one that are not `here` wait where they stood."""
    found, count = match(before.only(here), after), len(before)
    if len(here) == count:
        return found
    there = np.setdiff1d(np.arange(count), here)
    partner, kind = np.full(count, -1), np.full(count, -1)
    way, turned, section = np.zeros((count, 3)), np.zeros(count, dtype=int), np.zeros(count, dtype=int)
    partner[here], kind[here] = found.partner, found.old_kind
    way[here], turned[here], section[here] = found.way, found.turned, found.section
    if len(found.added):
        came = Where(before.moments.only(there)).at(found.back(after.moments.only(found.added)), np.zeros(3))
        partner[there[came[came >= 0]]] = found.added[came >= 0]
    return replace(found, partner=partner, way=way, turned=turned, section=section, old_kind=kind)


def _first_again(old: Build, before: Version, after: Version) -> Matching | None:
    """The same where the next version is the first one again: each brick goes back where it stood; None where not."""
    homes = [inherited.home(thing) for thing in old.objects]
    first = np.array([aside.ADDED not in thing for thing in old.objects])
    if first.all() and not any(homes):
        return None
    place, quarters = before.place.copy(), np.zeros(len(homes), dtype=int)
    for n, home in enumerate(homes):
        if home:
            place[n], quarters[n] = home[0], -home[1] % 4
    stood = replace(before, moments=before.moments.standing(np.array(QUARTERS)[quarters], place))
    rows = np.flatnonzero(first)
    found = match(stood.only(rows), after)
    if found.way.any() or found.turned.any() or (found.partner < 0).any() or len(found.added):
        return None
    partner, kind = np.full(len(homes), -1), np.full(len(homes), -1)
    partner[rows], kind[rows] = found.partner, found.old_kind
    way = np.where(first[:, None], place - before.place, 0.0)
    section = np.zeros(len(homes), dtype=int)
    return replace(found, partner=partner, way=way, turned=quarters, section=section, old_kind=kind)


def _pictures(applied: state.State | None, plan: _Plan) -> WearImages | None:
    """The pictures for materials that are new, as far as there are any."""
    if applied is None or all(plan.alike.values()):
        return None
    return images.find(Path(applied.textures) if applied.textures else None, tiers.named(applied.quality).fine)


def _renewed(
    collection: bpy.types.Collection, room: bpy.types.Collection, plan: _Plan, made: Made
) -> tuple[list[bpy.types.Object], tuple[report.Skipped, ...]]:
    """The objects that came in, and what could not follow the export; what is left of that is gone."""
    old, new = plan.old, plan.new
    things, theirs = old.objects, new.objects
    twins.take_off(things)
    places, skipped = Places(old, plan.middle), []
    wardrobe = Wardrobe(things, looks.of(things), plan.alike)
    for n in np.flatnonzero(plan.recoloured).tolist():
        if reason := wardrobe.recolour(things[n], theirs[plan.partner[n]]):
            skipped.append(report.Skipped(things[n].name, reason))
    fresh = [theirs[n] for n in plan.added.tolist()]
    for n, thing in zip(plan.added.tolist(), fresh, strict=True):
        _let_in(thing, n, plan, places, wardrobe)
    for n in np.flatnonzero(plan.moved).tolist():
        if reason := places.move(n, plan.way[n], int(plan.turned[n])):
            skipped.append(report.Skipped(things[n].name, reason))
    for thing in fresh:
        room.objects.unlink(thing)
        collection.objects.link(thing)
        name_added(thing)
    aside.bring_back(collection, [things[n] for n in np.flatnonzero(plan.back)])
    bpy.data.batch_remove([*room.objects, room])
    aside.put(collection, [things[n] for n in np.flatnonzero(plan.gone)])
    aside.tidy(collection)
    _sweep(made)
    bpy.context.view_layer.update()
    return fresh, tuple(skipped)


def _let_in(thing: bpy.types.Object, n: int, plan: _Plan, places: Places, wardrobe: Wardrobe) -> None:
    """Stands a new thing, brick n of the new version, in the old one's frame, beside its like where there is one."""
    kind = int(plan.kind[n])
    same, like = plan.example.get((kind, plan.colour[n])), plan.example.get(kind)
    mesh = None
    if same is not None:
        like, mesh = same, twins.original(plan.old.objects[same].data)
    elif like is not None:
        mesh = wardrobe.in_look_of(twins.original(plan.old.objects[like].data), thing)
    if like is not None and mesh is not None:
        thing.data = mesh
        places.put_beside(thing, like, plan.target[n])
        return
    wardrobe.dress(thing.data)
    pose, found = np.eye(4), plan.matching
    pose[:3, :3], pose[:3, 3] = found.turn.T, -found.turn.T @ found.shift
    places.stand(thing, pose @ pose_of(plan.new, n))


def _sweep(made: Made) -> None:
    """Removes what came with the export and is not used."""
    while unused := [block for block in made.blocks() if not block.users and not block.use_fake_user]:
        bpy.data.batch_remove(unused)


def _told(
    collection: bpy.types.Collection, plan: _Plan, fresh: list[bpy.types.Object], skipped: tuple[report.Skipped, ...]
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
        turned_deg=int(np.degrees(np.arctan2(found.turn[1, 0], found.turn[0, 0])).round()) % 360,
        changes=tuple(told),
        skipped=skipped,
    )


def _fitted(
    collection: bpy.types.Collection,
    plan: _Plan,
    fresh: list[bpy.types.Object],
    applied: state.State,
    pictures: WearImages | None,
    told: Updated,
) -> Updated:
    """Gives what came in the build's fit and wear, and solves again what is within reach of a change."""
    build = _with_keys(read(collection), collection, plan, fresh)
    preset = applied.preset
    free, sits, reach = np.zeros(len(build.bricks), dtype=bool), None, collection.get(_REACH, REACH)
    inside = {*fresh, *(plan.old.objects[n] for n in np.flatnonzero(plan.back))}
    came = np.array([thing in inside for thing in build.objects])
    shown = motion.measured(build)
    standing = np.hstack([shown.shift, shown.turn])
    around = _around(plan, build, fresh, preset.fit.clearance_mm)
    while around(0).any():
        free = around(reach)
        sits = refitted(
            build.bricks, preset.fit, applied.seed, applied.looseness, build.held, applied.budget, standing, free
        )
        if sits.more <= 0 or (around(2 * reach) == free).all():
            break
        reach *= 2  # what stays leaves no way: farther ones give way too
    if reach > REACH:
        collection[_REACH] = reach  # the way back takes as wide a reach
    resat = 0
    bare = slots.fill(build.objects, plain)
    new = [one for one in slots.materials(build.objects) if not wear.is_attached(one)]
    unworn: tuple[report.Skipped, ...] = ()
    if new and pictures is not None:
        quality = tiers.named(applied.quality)
        quality = quality.on_meshes(True) if applied.rounding == tiers.GEOMETRY else quality
        unworn = wear.attach(new, preset.wear, pictures, 1.0 / build.mm_per_world_unit, quality)
    if applied.rounding == tiers.GEOMETRY and preset.wear.rounding_mm > 0.0:
        shrink = fit.shrinkage(build.bricks, preset.fit.clearance_mm)
        shrink = np.where(build.held[:, None], 1.0, shrink)
        twins.put_on(build, twins.make(build, shrink, preset.fit.play_mm, preset.wear.rounding_mm))
    if sits:
        motion.rewrite(build, sits.motions, free)
        resat = int((sits.other | came).sum())
    stamps.write(build, set(fresh))
    state.remember(collection, applied)
    cut = sits.cut if sits else 0
    return replace(
        told, solved=int(free.sum()), resat=resat, cut=cut, reach=reach, skipped=told.skipped + bare + unworn
    )


def _with_keys(build: Build, collection: bpy.types.Collection, plan: _Plan, fresh: list[bpy.types.Object]) -> Build:
    """The build with moved bricks going by the keys they had, and new ones by keys that are nobody else's."""
    row = {thing: n for n, thing in enumerate(build.objects)}
    moved = np.flatnonzero(plan.moved).tolist()
    wanted = {plan.old.objects[n]: int(plan.old.bricks.key[n]) for n in moved}
    wanted = {thing: key for thing, key in wanted.items() if thing in row}
    if not wanted and not any(inherited.KEY in thing for thing in row):
        return build
    natural = {thing: int(build.bricks.key[n]) for thing, n in row.items()}
    for thing, key in wanted.items():
        inherited.keep(thing, natural[thing], key)
    taken = {wanted.get(thing, natural[thing]) for thing in row if thing not in fresh}
    for thing in fresh:
        key = natural.get(thing)
        while key is not None and key in taken:
            key = int(mixed(np.uint64(key)))
        if key is not None:
            inherited.keep(thing, natural[thing], key)
            taken.add(key)
    return read(collection)


def _around(
    plan: _Plan, build: Build, fresh: list[bpy.types.Object], clearance_mm: float
) -> Callable[[int], np.ndarray]:
    """Tells which bricks (n,) of the new build are within so many contacts of a change."""
    old, count = plan.old, len(plan.old.bricks)
    node = {thing: n for n, thing in enumerate(old.objects) if not plan.gone[n]}
    node |= {thing: count + n for n, thing in enumerate(fresh)}
    of_row = np.array([node[thing] for thing in build.objects])
    changed = np.ones(count + len(fresh), dtype=bool)
    changed[:count] = plan.gone | plan.back | (plan.alone & plan.moved)
    went = np.zeros((len(changed), 3))
    went[:count] = plan.way
    here = np.flatnonzero(~plan.waits)
    pairs = [
        here[_pairs(old.bricks.only(here), clearance_mm)],
        of_row[_pairs(build.bricks, clearance_mm)],
    ]
    changed = parted(went, changed, *pairs)
    if not changed.any():
        return lambda hops: np.zeros(len(of_row), dtype=bool)
    return lambda hops: reached(len(changed), changed, *pairs, hops=max(hops, 1))[of_row]


def _pairs(bricks, clearance_mm: float) -> np.ndarray:
    """Bricks (K, 2) that touch, each pair once."""
    met = contacts.contacts(bricks, fit.shrinkage(bricks, clearance_mm))
    return np.unique(np.stack([met.a, met.b], axis=1), axis=0).astype(np.int64)


def _on_frame(shot: dict[str, Any]) -> OnFrame:
    dials = Dials(shot["seed"], shot["looseness"], shot["wear"])
    return OnFrame(shot["name"], shot["first_frame"], dials, shot["layers"], shot.get("wear_share"))
