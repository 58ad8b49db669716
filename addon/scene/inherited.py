"""The identity of a brick that went elsewhere in a new version: it keeps the draws it had, and knows its way back.

What is kept counts only where it was written: a copy that stands elsewhere is a brick of its own.
"""

import bpy
import numpy as np

KEY = "playworn_key"  # raw property on a brick: the key that its place gives it, and the one that it goes by
HOME = "playworn_home"  # on a brick that was moved: where it stood first
_CHANNELS = ("location", "rotation_euler", "rotation_quaternion")
_HOME_MM, _HOME_TURN = 0.06, 1e-3


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


def leave_home(thing: bpy.types.Object, place: np.ndarray) -> None:
    """Remembers where a brick stands before it is moved for the first time; place (3,) in the build, mm."""
    if HOME not in thing:
        thing[HOME] = {"place": place.tolist(), **{name: list(getattr(thing, name)) for name in _CHANNELS}}


def come_home(thing: bpy.types.Object, place: np.ndarray) -> bool:
    """Puts a brick back to the bit where it has come back to where it stood first."""
    if HOME not in thing:
        return False
    home = thing[HOME].to_dict()
    near = np.abs(np.array(home["place"]) - place).max() <= _HOME_MM
    alike = all(
        np.abs(np.array(home[name]) - np.array(getattr(thing, name))).max() <= _HOME_TURN for name in _CHANNELS[1:]
    )
    if not (near and alike):
        return False
    for name in _CHANNELS:
        setattr(thing, name, home[name])
    del thing[HOME]
    return True
