"""How the bricks of a build came: where its export put them, and which of them are none of the export's.

What comes in is marked with its export and the name that it came by. Copies bear the same mark: of all that do, the one
that still goes by that name came, or else the one that stands nearest to where the export put it.
"""

import re
from collections import Counter
from collections.abc import Generator, Mapping, Sequence
from operator import attrgetter

import bpy
import numpy as np

from ... import raw
from ...core.slices import is_over, whole
from ..columns import Columns

PLACED = "playworn_placed"  # on a brick: its channels as the export has them
CAME = "playworn_came"  # on a brick: the mark of its export and the name that it came by
EXPORT = "playworn_export"  # on a build: the mark of its export
CHANNELS = ("location", "rotation_euler", "rotation_quaternion")
_CHANNELS = attrgetter(*CHANNELS)
_WIDTHS = (3, 3, 4)  # of these
WIDTH = sum(_WIDTHS)
_STILL = 1e-6  # of all channels together: what the sum of two of them rounds by
_NUMBER = re.compile(r"\.\d{3,}$")


def begin(build: bpy.types.Collection) -> str:
    """The mark of a build's export, made where there is none: unlike those of the file's other builds."""
    if not (mark := raw.text(build, EXPORT)):
        taken = {raw.text(room, EXPORT) for room in bpy.data.collections}
        name, number = " ".join(build.name.split()), 1
        mark = name
        while mark in taken:
            number += 1
            mark = f"{name} {number}"
        build[EXPORT] = mark
    return mark


def keep(
    things: Sequence[bpy.types.Object], mark: str, standing: Mapping[bpy.types.Object, list[float]] | None = None
) -> None:
    """Remembers that things came with an export, under the names they have, and stand where it put them, which may be
    known of them."""
    for thing in things:
        thing[PLACED] = _stands(thing) if standing is None else standing[thing]
        thing[CAME] = f"{mark}\n{thing.name}"


def standing(build: bpy.types.Collection) -> dict[bpy.types.Object, list[float]]:
    """Location, Euler angles and quaternion of all objects of a build, read in one go."""
    columns = Columns(build)
    values = [columns.read(name, width) for name, width in zip(CHANNELS, _WIDTHS, strict=True)]
    return dict(zip(columns.objects, np.concatenate(values, axis=1).tolist(), strict=True))


def forget(thing: bpy.types.Object) -> None:
    for name in (PLACED, CAME):
        if name in thing:
            del thing[name]


def is_known(thing: bpy.types.Object) -> bool:
    return CAME in thing


def placed(things: Sequence[bpy.types.Object]) -> np.ndarray:
    """Location, Euler angles and quaternion (n, 10) that an export gave things; of what came with none, its own."""
    return whole(placing(things))


def placing(things: Sequence[bpy.types.Object]) -> Generator[None, None, np.ndarray]:
    """The same in parts."""
    found = np.array([_stands(thing) for thing in things], dtype=np.float64).reshape(-1, WIDTH)
    yield
    came = _came(things)
    yield
    for n in np.flatnonzero(came).tolist():
        if told := raw.numbers(things[n], PLACED, WIDTH):
            found[n] = told
        if is_over():
            yield
    return found


def added(build: bpy.types.Collection, things: Sequence[bpy.types.Object]) -> np.ndarray:
    """Which things (n,) of a build its export did not bring: made or copied by hand, or brought from another build.

    Where nothing says which export it is, it is the one that most of the things came with.
    """
    marks = [raw.text(thing, CAME).partition("\n")[0] for thing in things]
    mark = raw.text(build, EXPORT) or next((mark for mark, _ in Counter(marks).most_common(1)), "")
    is_other = np.array([each != mark for each in marks], dtype=bool)
    return is_other | np.array([bool(each) for each in marks], dtype=bool) & ~_came(things)


def moved(thing: bpy.types.Object, before: list[np.ndarray]) -> None:
    """Takes along where the export put a thing that has been moved for it; `before` are its channels until then."""
    if PLACED in thing:
        now = np.concatenate(channels(thing))
        thing[PLACED] = (np.array(thing[PLACED]) + now - np.concatenate(before)).tolist()


def channels(thing: bpy.types.Object) -> list[np.ndarray]:
    return [np.array(getattr(thing, name), dtype=np.float64) for name in CHANNELS]


def _came(things: Sequence[bpy.types.Object]) -> np.ndarray:
    """Which things (n,) came with an export themselves, and are no copies of what did."""
    claims: dict[str, list[int]] = {}
    for n, thing in enumerate(things):
        if said := raw.text(thing, CAME):
            claims.setdefault(said, []).append(n)
    came, numbered, named = np.zeros(len(things), dtype=bool), [], 0
    for said, rows in claims.items():
        name = said.partition("\n")[2]
        n = min(rows, key=lambda n: (things[n].name != name, _way(things[n]))) if len(rows) > 1 else rows[0]
        came[n], own = True, things[n].name == name
        named += own
        if not own and _NUMBER.sub("", things[n].name) == _NUMBER.sub("", name) and _way(things[n]) > _STILL:
            numbered.append(n)
    if 2 * named > len(claims):  # else the build itself is a copy
        came[numbered] = False
    return came


def _way(thing: bpy.types.Object) -> float:
    """How far a thing stands from where the export put it, its channels added up."""
    told = raw.numbers(thing, PLACED, WIDTH)
    return float(np.abs(np.array(told) - _stands(thing)).sum()) if told else 0.0


def _stands(thing: bpy.types.Object) -> list[float]:
    location, euler, quaternion = _CHANNELS(thing)
    return [*location, *euler, *quaternion]
