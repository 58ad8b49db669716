"""A build's fit and wear after its next version came: only what is near a change is solved again."""

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace
from functools import partial

import bpy
import numpy as np

from ...core import report
from ...core.build.touching import Contacts
from ...core.draws import mixed
from ...core.fit import clearance
from ...core.fit.motions import Motions
from ...core.fit.refit import REACH, Refitted, exact, parted, reached, refitted
from ...core.pictures.difference import Updated
from ...core.slices import sliced
from ...core.wear import quality as tiers
from ...core.wear.story import stood
from ...core.wear.texture import WearImages
from ...nodes import attach as wear
from ...nodes import window
from ...nodes.plain import plain
from ...scene.build import inherited, state
from ...scene.build.build import Build, reading
from ...scene.fit import deltas, motion, travel
from ...scene.fit.deltas import Deltas
from ...scene.fit.stances import APPLIED, SHOTS, Stances
from ...scene.shots import keys
from ...scene.wear import slots, stamps, twins
from ..progress import Steps, part
from .comparison import Plan

_FITTING = "fitting the bricks"
_MOST = 8 * REACH  # contacts from a change, where bricks that stay nearer leave no way


@dataclass(frozen=True)
class Dialled:
    """The dials that a fit depends on: the build's own, or a shot's."""

    seed: int
    looseness: float

    @property
    def told(self) -> str:
        return f"{self.looseness!r} {self.seed}"


@dataclass(frozen=True)
class InShots:
    """What the timeline said of a build, shot by shot, before its keys were lifted."""

    dials: list[Dialled]
    lifted: keys.Lifted
    motions: np.ndarray  # (shots, U, 6) of all old bricks

    @classmethod
    def lift(cls, collection: bpy.types.Collection, plan: Plan) -> "InShots":
        """Takes the shots' keys off the bricks; those that are gone keep how they sat."""
        dials = [Dialled(shot["seed"], shot["looseness"]) for shot in keys.shots_of(collection)]
        if not dials:
            return cls([], keys.Lifted([], np.zeros((0, 0, 13))), np.zeros((0, 0, 6)))
        SHOTS.begin(collection, plan.things, plan.was_first)
        old, lifted, gone = plan.old, keys.lift(collection), np.flatnonzero(plan.gone)
        tables = lifted.of(old.objects, deltas.current(old.columns).rows(old.rows))
        motions = np.array([_table(motion.by(old, Deltas.unpacked(table))) for table in tables])
        for each, sat in zip(dials, motions, strict=True):
            SHOTS.keep([plan.things[n] for n in gone.tolist()], each.told, sat[gone])
        return cls(dials, lifted, motions)


@dataclass(frozen=True)
class Settled:
    """How bricks sit after a change, and which sit otherwise than they did."""

    motions: np.ndarray  # (n, 6)
    other: np.ndarray  # (n,)
    free: np.ndarray  # (n,) which were solved again
    reach: int = 0  # contacts from a change, within which they lie
    cut: int = 0


@dataclass(frozen=True)
class Place:
    """Where a build is solved again: what touches, which bricks came, and which are near a change."""

    build: Build
    was: np.ndarray  # (n,) which of the old bricks each one is, -1 for none
    came: np.ndarray  # (n,) bricks that were not in the version before
    fresh: np.ndarray  # (n,) these, and those that went somewhere on their own
    touching: Contacts
    near: Callable[[int], np.ndarray]  # which (n,) are within so many contacts of a change
    shrink: np.ndarray  # (n, 3)
    is_first: bool  # whether the build is its first version again

    def settling(
        self, store: Stances, applied: state.State, dials: Dialled, standing: np.ndarray
    ) -> Generator[None, None, Settled]:
        """How the bricks sit by some dials, where they stood (n, 6) by these before; in parts."""
        if self.is_first and store.are_known(self.build.collection):
            motions, other = store.kept(self.build.objects, dials.told, standing)
            return Settled(motions, other | self.came, np.zeros_like(other))
        if not self.near(1).any():
            none = np.zeros(len(standing), dtype=bool)
            return Settled(standing, none, none)
        found = yield from sliced(partial(self._refitted, applied, dials, standing))
        rows = np.flatnonzero(found.other & (self.was >= 0))
        store.keep([self.build.objects[n] for n in rows.tolist()], dials.told, standing[rows])
        return found

    def deltas(self, sits: Settled, standing: np.ndarray) -> Deltas:
        """What lets the bricks sit so; those that are held, or sit as they did, keep what they have (n, 13)."""
        ours = motion.deltas_of(self.build, Motions.packed(sits.motions, self.shrink)).packed()
        return Deltas.unpacked(np.where((sits.other & ~self.build.held)[:, None], ours, standing))

    def _refitted(self, applied: state.State, dials: Dialled, standing: np.ndarray) -> Settled:
        """The fit of what is near a change, what else is as it stood. Where those that stay leave no way, farther
        ones give way too."""
        build, reach = self.build, REACH
        while True:
            free = self.near(reach)
            sits: Refitted = refitted(
                build.bricks, self.touching, applied.preset.fit, dials.seed, dials.looseness, build.held,
                applied.budget, standing, free, self.fresh,
            )  # fmt: skip
            if not sits.cut or reach >= _MOST or (self.near(2 * reach) == free).all():
                return Settled(sits.motions, sits.other | self.came, free, reach, sits.cut)
            reach *= 2


def settle(
    collection: bpy.types.Collection,
    plan: Plan,
    fresh: list[bpy.types.Object],
    applied: state.State,
    pictures: WearImages | None,
    shots: InShots,
    told: Updated,
) -> Steps[tuple[Updated, Build]]:
    """Gives what came in the build's fit and wear, and solves again what is within reach of a change: by the build's
    dials, and by those of each shot on the timeline. Returns the build as it is then, too."""
    build = yield from part(0.7, "reading the build", reading(collection))
    fresh = [*fresh, *_taken_in(build, plan, fresh)]
    build = _with_keys(build, plan, fresh)
    APPLIED.begin(collection, build.objects, plan.was_first)
    place = yield from part(0.75, _FITTING, _placing(build, plan, fresh, applied.preset.fit.clearance_mm))
    own = Dialled(applied.seed, applied.looseness)
    sits = yield from part(0.75, _FITTING, place.settling(APPLIED, applied, own, _table(motion.measured(build))))
    wearing = _wearing(build, [*fresh, *plan.things_recoloured], applied, pictures, place.shrink)
    skipped = yield from part(0.8, "wearing the materials", wearing)
    yield 0.84, "moving the bricks"
    motion.rewrite(build, Motions.packed(sits.motions, place.shrink), sits.other)
    travel.follow(build)
    yield from part(0.84, "stamping the bricks", stamps.writing(build, set(fresh)))
    looking = partial(stood, build.bricks, applied.preset.story, applied.window_deg, applied.wall_deg)
    placement = yield from part(0.85, "looking where hands and dust get to", sliced(looking))
    yield from part(0.85, "stamping the bricks", stamps.placing(build, placement))
    window.lay(stamps.any_lit())
    told = replace(told, solved=int(sits.free.sum()), resat=int(sits.other.sum()), skipped=told.skipped + skipped)
    told = yield from _keyed(place, applied, shots, replace(told, reach=sits.reach, cut=sits.cut))
    if place.is_first:
        for store in (APPLIED, SHOTS):
            store.release(build.objects)
    state.remember(collection, applied, build.lattice.mm_per_unit)
    return told, build


def _keyed(place: Place, applied: state.State, shots: InShots, told: Updated) -> Steps[Updated]:
    """Keys how the bricks sit in each shot on the timeline: near a change by that shot's dials, else as they did."""
    if not shots.dials:
        return told
    build = place.build
    standing = shots.lifted.of(build.objects, deltas.current(build.columns).rows(build.rows))
    found: dict[Dialled, Settled] = {}
    for dials, sat in zip(shots.dials, shots.motions, strict=True):
        if dials not in found:
            words = f"fitting the bricks for shot {len(found) + 1}"
            here = np.where((place.was >= 0)[:, None], sat[place.was], 0.0)
            found[dials] = yield from part(0.85, words, place.settling(SHOTS, applied, dials, here))
    yield 0.9, "writing the keys"
    sits = [found[dials] for dials in shots.dials]
    written = keys.lay(build, [place.deltas(each, table) for each, table in zip(sits, standing, strict=True)])
    return replace(
        told,
        shots=len(sits),
        reach=max(told.reach, *(each.reach for each in sits)),
        cut=told.cut + sum(each.cut for each in found.values()),
        skipped=told.skipped + written.skipped,
    )


def _table(motions: Motions) -> np.ndarray:
    """Shifts and turns (n, 6) as they were solved."""
    return exact(np.hstack([motions.shift, motions.turn]))


def _wearing(
    build: Build, came: list[bpy.types.Object], applied: state.State, pictures: WearImages | None, shrink: np.ndarray
) -> Generator[None, None, tuple[report.Skipped, ...]]:
    """Wears what came in new materials and rounds it as the rest is, in parts; what could not be."""
    bare, preset = (yield from slots.filling(came, plain)), applied.preset
    new = [one for one in slots.materials(came) if not wear.is_attached(one)]
    unworn: tuple[report.Skipped, ...] = ()
    if new and pictures is not None:
        quality = tiers.named(applied.quality)
        quality = quality.on_meshes(True) if applied.rounding == tiers.GEOMETRY else quality
        unworn = yield from wear.attaching(new, preset.wear, pictures, 1.0 / build.mm_per_world_unit, quality)
    if applied.rounding == tiers.GEOMETRY and preset.wear.rounding_mm > 0.0:
        shrink = np.where(build.held[:, None], 1.0, shrink)
        made = yield from twins.making(build, shrink, preset.fit.play_mm, preset.wear.rounding_mm)
        yield from twins.putting_on(build, made)
    return bare + unworn


def _taken_in(build: Build, plan: Plan, fresh: list[bpy.types.Object]) -> list[bpy.types.Object]:
    """What stood in the build before, was none of its bricks, and is one now, since new ones hold it."""
    known = {*plan.things, *fresh}
    return [thing for thing in build.objects if thing not in known]


def _with_keys(build: Build, plan: Plan, fresh: list[bpy.types.Object]) -> Build:
    """The build with moved bricks going by the keys they had, and new ones by keys that are nobody else's."""
    row = {thing: n for n, thing in enumerate(build.objects)}
    moved = np.flatnonzero(plan.moved).tolist()
    wanted = {plan.things[n]: int(plan.old.bricks.key[n]) for n in moved}
    wanted = {thing: key for thing, key in wanted.items() if thing in row}
    if not wanted and not any(inherited.KEY in thing for thing in row):
        return build
    natural = {thing: int(build.bricks.key[n]) for thing, n in row.items()}
    own = dict(natural)
    for thing, key in wanted.items():
        inherited.keep(thing, natural[thing], key)
        own[thing] = key
    came = set(fresh)
    taken = {own[thing] for thing in row if thing not in came}
    for thing in filter(row.__contains__, fresh):
        while own[thing] in taken:
            own[thing] = int(mixed(np.uint64(own[thing])))
        inherited.keep(thing, natural[thing], own[thing])
        taken.add(own[thing])
    key = np.array([own[thing] for thing in row], dtype=np.uint64)
    return replace(build, bricks=replace(build.bricks, key=key))


def _placing(
    build: Build, plan: Plan, fresh: list[bpy.types.Object], clearance_mm: float
) -> Generator[None, None, Place]:
    """Where the build is solved again, in parts."""
    old, count, things = plan.old, len(plan.old.bricks), build.objects
    node = {thing: n for n, thing in enumerate(plan.things) if not plan.gone[n]}
    node |= {thing: count + n for n, thing in enumerate(fresh)}
    of_row = np.array([node[thing] for thing in things])
    inside = of_row < count
    shrink, touching, _ = yield from sliced(partial(clearance.met, build.bricks, clearance_mm))
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
    _, were, _ = yield from sliced(partial(clearance.met, old.bricks.only(here), clearance_mm))
    pairs = here[_pairs(were)], of_row[_pairs(touching)]
    changed = parted(went, changed, *pairs)

    def near(hops: int) -> np.ndarray:
        return reached(len(changed), changed, *pairs, hops=hops)[of_row]

    was = np.where(inside, of_row, -1)
    return Place(build, was, came, fresh_rows, touching, near, shrink, plan.again)


def _pairs(met: Contacts) -> np.ndarray:
    """Bricks (K, 2) that touch, each pair once."""
    return np.unique(np.stack([met.a, met.b], axis=1), axis=0).astype(np.int64)
