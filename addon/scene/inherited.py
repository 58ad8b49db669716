"""The identity of a brick that went elsewhere in a new version: it keeps the draws it had, and knows its way back.

What is kept counts only where it was written: a copy that stands elsewhere is a brick of its own.
"""

import bpy
import numpy as np

KEY = "playworn_key"  # raw property on a brick: the key that its place gives it, and the one that it goes by
HOME = "playworn_home"  # on a brick that was moved: where it stood first
_CHANNELS = ("location", "rotation_euler", "rotation_quaternion")
_HOME_MM = 0.06


def read(things: list[bpy.types.Object], keys: np.ndarray) -> np.ndarray:
    """The keys (n,) that bricks go by, from those of their places (n,)."""
    kept = [n for n, thing in enumerate(things) if KEY in thing]
    if not kept:
        return keys
    found = keys.copy()
    for n in kept:
        at, own = str(things[n][KEY]).split()
        if int(at, 16) == int(keys[n]):
            found[n] = np.uint64(int(own, 16))
    return found


def keep(thing: bpy.types.Object, at: int, key: int) -> None:
    """Lets a brick go by a key where it stands now, of which its place makes another."""
    if at == key:
        forget(thing)
    else:
        thing[KEY] = f"{at:016x} {key:016x}"


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
