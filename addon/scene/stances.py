"""How bricks sat in the first version, kept on those that a later one made sit otherwise: the way back is exact.

It holds until the whole build is fitted anew.
"""

from collections.abc import Iterable, Sequence

import bpy
import numpy as np

SAT = "playworn_sat"  # raw property on a brick: its motion in the first version
KNOWN = "playworn_sat_known"  # on a build: whether all that sits otherwise since the first version says how it sat


def begin(build: bpy.types.Collection, things: Iterable[bpy.types.Object], is_first: bool) -> None:
    """From here on stances are kept, if they have not been since the first version; `is_first`: this is that one."""
    if KNOWN not in build:
        release(things)
        build[KNOWN] = is_first


def end(build: bpy.types.Collection) -> None:
    """The whole build sits anew: what was kept tells nothing any more."""
    if KNOWN in build:
        del build[KNOWN]


def are_known(build: bpy.types.Collection) -> bool:
    return bool(build.get(KNOWN, False))


def keep(things: Sequence[bpy.types.Object], motions: np.ndarray) -> None:
    """Keeps how things sat, motions (n, 6) in mm and radians, on those that do not say so yet."""
    for thing, motion in zip(things, motions.tolist(), strict=True):
        if SAT not in thing:
            thing[SAT] = motion


def kept(things: Sequence[bpy.types.Object], motions: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The motions (n, 6) with those that were kept, and which (n,) these are."""
    rows = np.array([SAT in thing for thing in things], dtype=bool)
    table = motions.copy()
    for n in np.flatnonzero(rows).tolist():
        table[n] = things[n][SAT]
    return table, rows


def release(things: Iterable[bpy.types.Object]) -> None:
    for thing in things:
        if SAT in thing:
            del thing[SAT]
