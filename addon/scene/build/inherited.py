"""The identity of a brick from version to version: where it went elsewhere, the draws it had and its way back.

What is kept counts only where it was written: a copy that stands elsewhere is a brick of its own.
"""

import re

import bpy
import numpy as np

from ... import raw
from .arrival import CHANNELS

KEY = "playworn_key"  # raw property on a brick: the key that its place gives it, and the one that it goes by
HOME = "playworn_home"  # on a brick that was moved: where it stood first
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


def moved(things: list[bpy.types.Object], keys: np.ndarray) -> list[int]:
    """Numbers of the things that go by the key of another place, of those keys (n,) that they go by."""
    return [n for n, said in kept(things).items() if int(said.split()[1], 16) == int(keys[n])]


def keep(thing: bpy.types.Object, at: int, key: int) -> None:
    """Lets a brick go by a key where it stands now, of which its place makes another."""
    if at == key:
        forget(thing)
    else:
        thing[KEY] = f"{at:016x} {key:016x}"


def forget(thing: bpy.types.Object) -> None:
    if KEY in thing:
        del thing[KEY]


def forget_home(thing: bpy.types.Object) -> None:
    if HOME in thing:
        del thing[HOME]


def leave_home(thing: bpy.types.Object, place: np.ndarray, quarters: int) -> None:
    """Remembers where a brick stands before it is moved for the first time; place (3,) in the build, mm.

    `quarters` is how far it turns now about the upright axis.
    """
    if HOME in thing:
        thing[HOME]["quarters"] = (thing[HOME]["quarters"] + quarters) % 4
    else:
        stands = {name: list(getattr(thing, name)) for name in CHANNELS}
        thing[HOME] = {"place": place.tolist(), "quarters": quarters, **stands}


def home(thing: bpy.types.Object) -> tuple[np.ndarray, int] | None:
    """Where a brick stood first (3,) and how many quarters it has turned since; None where it never moved."""
    return (np.array(thing[HOME]["place"]), int(thing[HOME]["quarters"])) if HOME in thing else None


def come_home(thing: bpy.types.Object, place: np.ndarray) -> bool:
    """Puts a brick back to the bit where it has come back to where it stood first."""
    stood = home(thing)
    if stood is None or stood[1] or np.abs(stood[0] - place).max() > _HOME_MM:
        return False
    for name in CHANNELS:
        setattr(thing, name, list(thing[HOME][name]))
    del thing[HOME]
    return True
