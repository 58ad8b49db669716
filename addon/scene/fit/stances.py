"""How bricks sat in the first version, kept on those that a later one made sit otherwise: the way back is exact.

It holds until the whole build is fitted anew.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import compress

import bpy
import numpy as np

from ... import raw


@dataclass(frozen=True)
class Stances:
    """Motions of bricks in the first version, by the dials that they are for."""

    sat: str  # raw property on a brick: the motions, by dials
    known: str  # on a build: whether all that sits otherwise since the first version says how it sat

    def begin(self, build: bpy.types.Collection, things: Iterable[bpy.types.Object], is_first: bool) -> None:
        """From here on stances are kept, if they have not been since the first version; `is_first`: this is that
        one."""
        if self.known not in build:
            self.release(things)
            raw.put(build, self.known, is_first)

    def end(self, build: bpy.types.Collection) -> None:
        """The whole build sits anew: what was kept tells nothing any more."""
        raw.drop(build, self.known)

    def are_known(self, build: bpy.types.Collection) -> bool:
        return bool(build.get(self.known, False))

    def keep(self, things: Sequence[bpy.types.Object], dials: str, motions: np.ndarray) -> None:
        """Keeps how things sat, motions (n, 6) in mm and radians, on those that do not say so yet."""
        raw.keep_all(things, (self.sat,))
        for thing, motion in zip(things, motions.tolist(), strict=True):
            if self.sat not in thing:
                thing[self.sat] = {}
            if dials not in thing[self.sat]:
                thing[self.sat][dials] = motion

    def kept(
        self, things: Sequence[bpy.types.Object], dials: str, motions: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """The motions (n, 6) with those that were kept, and which (n,) these are."""
        said = [thing[self.sat].get(dials) if self.sat in thing else None for thing in things]
        rows = np.array([motion is not None for motion in said], dtype=bool)
        table = motions.copy()
        for n in np.flatnonzero(rows).tolist():
            table[n] = said[n]
        return table, rows

    def release(self, things: Iterable[bpy.types.Object]) -> None:
        for thing in things:
            raw.drop(thing, self.sat)


APPLIED = Stances("playworn_stances", "playworn_stances_known")
SHOTS = Stances("playworn_stances_in_shots", "playworn_stances_in_shots_known")


def forget(build: bpy.types.Collection, things: Sequence[bpy.types.Object]) -> None:
    """A build that is cleared has no way back to how it sat; bricks say so after another Apply, too, when the build
    does no more."""
    for store in (APPLIED, SHOTS):
        if store.known in build:
            store.end(build)
        store.release(compress(things, raw.carried(things, store.sat)))
