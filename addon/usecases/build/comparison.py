"""Two versions of a build side by side: which of the old bricks is which of the new ones, and what became of it."""

from collections.abc import Generator
from dataclasses import dataclass, replace
from functools import cached_property, partial

import bpy
import numpy as np

from ...core.build.matching import QUARTERS, Matching, Version, Where, match
from ...core.slices import sliced
from ...scene.build import arrival, aside, inherited, looks, sign, versions
from ...scene.build.build import Build, reading
from ...scene.build.renewal import bare


@dataclass(frozen=True)
class Plan:
    """Which of the old bricks (U,), waiting ones among them, is which of the new ones."""

    old: Build
    new: Build
    matching: Matching
    waits: np.ndarray  # (U,) whether it was removed in an earlier update
    artists: np.ndarray  # (U,) whether the export never brought it: it stays where it is
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
    was_first: bool  # whether the old version is the first one
    again: bool  # whether the new one is

    @cached_property
    def things(self) -> list[bpy.types.Object]:
        return self.old.objects

    @property
    def things_recoloured(self) -> list[bpy.types.Object]:
        return [self.things[n] for n in np.flatnonzero(self.recoloured)]

    @cached_property
    def added(self) -> np.ndarray:
        return np.setdiff1d(np.arange(len(self.new.bricks)), self.partner)

    @cached_property
    def moved(self) -> np.ndarray:
        return (self.partner >= 0) & ~self.waits & (self.way.any(axis=1) | (self.turned > 0))

    @cached_property
    def back(self) -> np.ndarray:
        """(U,) which waited and are there again."""
        return self.waits & (self.partner >= 0)

    @cached_property
    def gone(self) -> np.ndarray:
        return ~self.waits & ~self.artists & (self.partner < 0)


def comparing(old: Build, waits: np.ndarray, new: Build) -> Generator[None, None, Plan]:
    """Which brick is which, in parts; `waits` (U,) are those of the old ones that an earlier update took out."""
    a, b, alike = looks.numbered(looks.of(old.objects), looks.of(new.objects))
    yield
    before = yield from versions.seeing(old, a)
    yield
    after = yield from versions.seeing(new, b)
    yield
    artists = arrival.added(old.collection, old.objects) & ~waits
    artists &= not (waits | artists).all()  # with nothing of the export left all there is stands for it
    here = np.flatnonzero(~waits & ~artists)
    homes = [None if own else inherited.home(thing) for thing, own in zip(old.objects, artists, strict=True)]
    yield
    is_new = np.array([sign.ADDED in thing for thing in old.objects])
    first = ~is_new & ~artists
    at_home = not (is_new & ~artists).any() and not any(homes)
    found = None
    if not at_home and first.any():
        found = yield from sliced(partial(_first_again, homes, first, before, after))
    again = found is not None
    if found is None:
        found = yield from sliced(partial(_next, before, after, here, artists))
        again = at_home and _is_whole(found)
    again = again and not artists.any()  # what was not there then may stand in the way of how the bricks sat
    partner, section, target = found.partner, found.section, found.back(after.moments)
    paired, count = partner >= 0, len(old.bricks)
    recoloured = np.zeros(count, dtype=bool)
    recoloured[paired] = before.colour[paired] != after.colour[partner[paired]]
    recoloured &= ~artists
    example: dict = {}
    for n, kind in zip(here.tolist(), found.old_kind[here].tolist(), strict=True):
        if kind not in example or (kind, a[n]) not in example:
            if not bare(old, n):
                continue
            example.setdefault(kind, n)
            example.setdefault((kind, a[n]), n)
    return Plan(
        old, new, found, waits, artists, before.place, target.middle, partner, found.way, found.turned,
        (section < 0) & (partner >= 0), recoloured, example, found.new_kind, b, alike,
        at_home and not waits.any(), again,
    )  # fmt: skip


def with_waiting(collection: bpy.types.Collection) -> Generator[None, None, tuple[Build, np.ndarray]]:
    """The build together with the bricks that an earlier update took out of it, and which (U,) these are; in parts."""
    room = aside.room_of(collection)
    if room is None:
        old = yield from reading(collection)
        return old, np.zeros(len(old.bricks), dtype=bool)
    collection.children.link(room)
    try:
        old = yield from reading(collection)
    finally:
        collection.children.unlink(room)
    inside = set(room.objects)
    return old, np.array([thing in inside for thing in old.objects])


def _next(before: Version, after: Version, here: np.ndarray, artists: np.ndarray) -> Matching:
    """Which brick of the next version is which; those of the old one that are not `here` are it where they stand alone,
    the `artists` (U,) sooner than those that wait."""
    found, count = match(before.only(here), after), len(before)
    if len(here) == count:
        return found
    partner, kind = np.full(count, -1), np.full(count, -1)
    way, turned, section = np.zeros((count, 3)), np.zeros(count, dtype=int), np.zeros(count, dtype=int)
    partner[here], kind[here] = found.partner, found.old_kind
    way[here], turned[here], section[here] = found.way, found.turned, found.section
    others, added = np.setdiff1d(np.arange(count), here), found.added
    for there in (others[artists[others]], others[~artists[others]]):
        if len(there) and len(added):
            came = Where(before.moments.only(there)).at(found.back(after.moments.only(added)), np.zeros(3))
            partner[there[came[came >= 0]]] = added[came >= 0]
            added = added[came < 0]
    return replace(found, partner=partner, way=way, turned=turned, section=section, old_kind=kind)


def _is_whole(found: Matching) -> bool:
    """Whether every brick of both versions is one of the other, and none went anywhere."""
    moved = found.way.any() or found.turned.any()
    return not (moved or (found.partner < 0).any() or len(found.added))


def _first_again(homes: list, first: np.ndarray, before: Version, after: Version) -> Matching | None:
    """The same where the next version is the first one again: each brick goes back where it stood; None where not.

    Of the old bricks, `homes` is where those that moved stood first, and `first` (U,) which were there then.
    """
    place, quarters = before.place.copy(), np.zeros(len(homes), dtype=int)
    for n, home in enumerate(homes):
        if home:
            place[n], quarters[n] = home[0], -home[1] % 4
    stood = replace(before, moments=before.moments.standing(np.array(QUARTERS)[quarters], place))
    rows = np.flatnonzero(first)
    found = match(stood.only(rows), after)
    if not _is_whole(found):
        return None
    partner, kind = np.full(len(homes), -1), np.full(len(homes), -1)
    partner[rows], kind[rows] = found.partner, found.old_kind
    way = np.where(first[:, None], place - before.place, 0.0)
    section = np.zeros(len(homes), dtype=int)
    return replace(found, partner=partner, way=way, turned=quarters, section=section, old_kind=kind)
