"""A build's fit and wear after its next version came: only what is near a change is solved again."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import bpy
import numpy as np

from ..core import contacts, fit, report
from ..core import quality as tiers
from ..core.contacts import Contacts
from ..core.difference import Updated
from ..core.draws import mixed
from ..core.motions import Motions
from ..core.refit import REACH, Refitted, exact, parted, reached, refitted
from ..core.texture import WearImages
from ..nodes import attach as wear
from ..nodes.plain import plain
from ..scene import inherited, motion, slots, stamps, stances, state, twins
from ..scene.build import Build, read
from .comparison import Plan

_MOST = 8 * REACH  # contacts from a change, where bricks that stay nearer leave no way


@dataclass(frozen=True)
class Place:
    """Where a build is solved again: what touches, which bricks came, and which are near a change."""

    build: Build
    came: np.ndarray  # (n,) bricks that were not in the version before
    fresh: np.ndarray  # (n,) these, and those that went somewhere on their own
    touching: Contacts
    near: Callable[[int], np.ndarray]  # which (n,) are within so many contacts of a change

    def refitted(self, applied: state.State, seed: int, looseness: float, standing: np.ndarray) -> tuple:
        """The fit of what is near a change, what else is as it stood (n, 6); which (n,) were solved; the reach taken.

        Where those that stay leave no way, farther ones give way too.
        """
        build, reach = self.build, REACH
        while True:
            free = self.near(reach)
            sits: Refitted = refitted(
                build.bricks, self.touching, applied.preset.fit, seed, looseness, build.held, applied.budget,
                standing, free, self.fresh,
            )  # fmt: skip
            if not sits.cut or reach >= _MOST or (self.near(2 * reach) == free).all():
                return sits, free, reach
            reach *= 2


def settle(
    collection: bpy.types.Collection,
    plan: Plan,
    fresh: list[bpy.types.Object],
    applied: state.State,
    pictures: WearImages | None,
    told: Updated,
) -> Updated:
    """Gives what came in the build's fit and wear, and solves again what is within reach of a change."""
    build = _with_keys(read(collection), collection, plan, fresh)
    stances.begin(collection, build.objects, plan.was_first)
    shrink = fit.shrinkage(build.bricks, applied.preset.fit.clearance_mm)
    place = _place(build, plan, fresh, shrink, applied.preset.fit.clearance_mm)
    shown = motion.measured(build)
    standing = exact(np.hstack([shown.shift, shown.turn]))
    cut, reach, free = 0, 0, np.zeros(len(standing), dtype=bool)
    if plan.again and stances.are_known(collection):
        motions, other = stances.kept(build.objects, standing)
        stances.release(build.objects)
    elif place.near(1).any():
        sits, free, reach = place.refitted(applied, applied.seed, applied.looseness, standing)
        motions, other, cut = sits.motions, sits.other, sits.cut
        rows = np.flatnonzero(other & ~place.came)
        stances.keep([build.objects[n] for n in rows.tolist()], standing[rows])
    else:
        motions, other = standing, free
    skipped = _wear(build, applied, pictures, shrink)
    other = other | place.came
    motion.rewrite(build, Motions.packed(motions, shrink), other)
    stamps.write(build, set(fresh))
    state.remember(collection, applied)
    return replace(
        told, solved=int(free.sum()), resat=int(other.sum()), cut=cut, reach=reach, skipped=told.skipped + skipped
    )


def _wear(
    build: Build, applied: state.State, pictures: WearImages | None, shrink: np.ndarray
) -> tuple[report.Skipped, ...]:
    """Wears what came in new materials and rounds it as the rest is; what could not be."""
    bare, preset = slots.fill(build.objects, plain), applied.preset
    new = [one for one in slots.materials(build.objects) if not wear.is_attached(one)]
    unworn: tuple[report.Skipped, ...] = ()
    if new and pictures is not None:
        quality = tiers.named(applied.quality)
        quality = quality.on_meshes(True) if applied.rounding == tiers.GEOMETRY else quality
        unworn = wear.attach(new, preset.wear, pictures, 1.0 / build.mm_per_world_unit, quality)
    if applied.rounding == tiers.GEOMETRY and preset.wear.rounding_mm > 0.0:
        shrink = np.where(build.held[:, None], 1.0, shrink)
        twins.put_on(build, twins.make(build, shrink, preset.fit.play_mm, preset.wear.rounding_mm))
    return bare + unworn


def _with_keys(build: Build, collection: bpy.types.Collection, plan: Plan, fresh: list[bpy.types.Object]) -> Build:
    """The build with moved bricks going by the keys they had, and new ones by keys that are nobody else's."""
    row = {thing: n for n, thing in enumerate(build.objects)}
    moved = np.flatnonzero(plan.moved).tolist()
    wanted = {plan.things[n]: int(plan.old.bricks.key[n]) for n in moved}
    wanted = {thing: key for thing, key in wanted.items() if thing in row}
    if not wanted and not any(inherited.KEY in thing for thing in row):
        return build
    natural = {thing: int(build.bricks.key[n]) for thing, n in row.items()}
    for thing, key in wanted.items():
        inherited.keep(thing, natural[thing], key)
    came = set(fresh)
    taken = {wanted.get(thing, natural[thing]) for thing in row if thing not in came}
    for thing in fresh:
        key = natural.get(thing)
        while key is not None and key in taken:
            key = int(mixed(np.uint64(key)))
        if key is not None:
            inherited.keep(thing, natural[thing], key)
            taken.add(key)
    return read(collection)


def _place(build: Build, plan: Plan, fresh: list[bpy.types.Object], shrink: np.ndarray, clearance_mm: float) -> Place:
    old, count, things = plan.old, len(plan.old.bricks), build.objects
    node = {thing: n for n, thing in enumerate(plan.things) if not plan.gone[n]}
    node |= {thing: count + n for n, thing in enumerate(fresh)}
    of_row = np.array([node[thing] for thing in things])
    inside, touching = of_row < count, contacts.contacts(build.bricks, shrink)
    came = ~inside
    came[inside] = plan.back[of_row[inside]]
    alone = plan.alone & plan.moved
    fresh_rows = came.copy()
    fresh_rows[inside] |= alone[of_row[inside]]
    changed = np.ones(count + len(fresh), dtype=bool)
    changed[:count] = plan.gone | plan.back | alone
    went = np.zeros((len(changed), 3))
    went[:count] = plan.way
    here = np.flatnonzero(~plan.waits)
    before = old.bricks.only(here)
    pairs = here[_pairs(contacts.contacts(before, fit.shrinkage(before, clearance_mm)))], of_row[_pairs(touching)]
    changed = parted(went, changed, *pairs)

    def near(hops: int) -> np.ndarray:
        return reached(len(changed), changed, *pairs, hops=hops)[of_row]

    return Place(build, came, fresh_rows, touching, near)


def _pairs(met: Contacts) -> np.ndarray:
    """Bricks (K, 2) that touch, each pair once."""
    return np.unique(np.stack([met.a, met.b], axis=1), axis=0).astype(np.int64)
