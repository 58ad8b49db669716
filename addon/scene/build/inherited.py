"""The identity of a brick from version to version: where the export put it, whatever an artist has done to it since,
and, where it went elsewhere, the draws it had and its way back.

What is kept counts only where it was written: a copy that stands elsewhere is a brick of its own.
"""

import re
from collections.abc import Iterable, Sequence

import bpy
import numpy as np

from ... import raw

KEY = "playworn_key"  # raw property on a brick: the key that its place gives it, and the one that it goes by
HOME = "playworn_home"  # on a brick that was moved: where it stood first
PLACED = "playworn_placed"  # on a brick: the channels below as the export has them
_CHANNELS = ("location", "rotation_euler", "rotation_quaternion")
_WIDTH = 10  # of these
_HOME_MM = 0.06
_KEYS = re.compile("[0-9a-f]{16} [0-9a-f]{16}")


def kept(things: list[bpy.types.Object]) -> dict[int, str]:
    """What is kept of keys, by number of the thing."""
    if not any(raw.carried(things, KEY)):
        return {}
    said = ((n, raw.text(thing, KEY)) for n, thing in enumerate(things) if KEY in thing)
    return {n: words for n, words in said if _KEYS.fullmatch(words)}


def keys(kept: dict[int, str], of_places: np.ndarray) -> np.ndarray:
    """The keys (n,) that bricks go by, from those of their places (n,)."""
    found = of_places.copy()
    for n, said in kept.items():
        at, own = said.split()
        if int(at, 16) == int(of_places[n]):
            found[n] = np.uint64(int(own, 16))
    return found


def keep(thing: bpy.types.Object, at: int, key: int) -> None:
    """Lets a brick go by a key where it stands now, of which its place makes another."""
    if at == key:
        forget(thing)
    else:
        thing[KEY] = f"{at:016x} {key:016x}"


def keep_place(things: Iterable[bpy.types.Object]) -> None:
    """Remembers that things stand where the export put them."""
    for thing in things:
        thing[PLACED] = [value for name in _CHANNELS for value in getattr(thing, name)]


def placed(things: Sequence[bpy.types.Object]) -> np.ndarray:
    """Location, Euler angles and quaternion (n, 10) that the export gave things; as they are where none are known.

    Of several that say they came to one place, as copies do, it is the one that stands nearest to it.
    """
    said: dict[tuple[float, ...], list[int]] = {}
    found = np.array([_stands(thing) for thing in things], dtype=np.float64).reshape(-1, _WIDTH)
    for n, thing in enumerate(things):
        if kept := raw.numbers(thing, PLACED, _WIDTH):
            said.setdefault(kept, []).append(n)
    for place, claimants in said.items():
        nearest = np.abs(found[claimants] - place).sum(axis=1).argmin()
        found[claimants[nearest]] = place
    return found


def _stands(thing: bpy.types.Object) -> list[float]:
    return [value for name in _CHANNELS for value in getattr(thing, name)]


def moved(thing: bpy.types.Object, before: list[np.ndarray]) -> None:
    """Takes along where the export put a thing that has been moved for it; `before` are its channels until then."""
    if PLACED in thing:
        now = np.concatenate([np.array(getattr(thing, name)) for name in _CHANNELS])
        thing[PLACED] = (np.array(thing[PLACED]) + now - np.concatenate(before)).tolist()


def channels(thing: bpy.types.Object) -> list[np.ndarray]:
    return [np.array(getattr(thing, name), dtype=np.float64) for name in _CHANNELS]


def forget(thing: bpy.types.Object) -> None:
    if KEY in thing:
        del thing[KEY]


def leave_home(thing: bpy.types.Object, place: np.ndarray, quarters: int) -> None:
    """Remembers where a brick stands before it is moved for the first time; place (3,) in the build, mm.

    `quarters` is how far it turns now about the upright axis.
    """
    if HOME in thing:
        thing[HOME]["quarters"] = (thing[HOME]["quarters"] + quarters) % 4
    else:
        stands = {name: list(getattr(thing, name)) for name in _CHANNELS}
        thing[HOME] = {"place": place.tolist(), "quarters": quarters, **stands}


def home(thing: bpy.types.Object) -> tuple[np.ndarray, int] | None:
    """Where a brick stood first (3,) and how many quarters it has turned since; None where it never moved."""
    return (np.array(thing[HOME]["place"]), int(thing[HOME]["quarters"])) if HOME in thing else None


def come_home(thing: bpy.types.Object, place: np.ndarray) -> bool:
    """Puts a brick back to the bit where it has come back to where it stood first."""
    stood = home(thing)
    if stood is None or stood[1] or np.abs(stood[0] - place).max() > _HOME_MM:
        return False
    for name in _CHANNELS:
        setattr(thing, name, list(thing[HOME][name]))
    del thing[HOME]
    return True
