"""Where bricks stood when they were first seen, whichever version of the build that was."""

import numpy as np

from . import arrival, inherited
from .build import Build
from .versions import stood


def first_stood(build: Build) -> tuple[np.ndarray, np.ndarray]:
    """Turn (n, 3, 3) and origin (n, 3) in mm of a build's bricks at rest; of one that an update moved, and that goes by
    the key of its first place, as it stood there."""
    turn, origin = build.bricks.turn, build.bricks.origin
    moved = {n: build.objects[n].get(inherited.HOME) for n in inherited.moved(build.objects, build.bricks.key)}
    rows = [n for n, home in moved.items() if home is not None]
    if not rows:
        return turn, origin
    told = np.zeros((len(build.objects), arrival.WIDTH))
    told[rows] = [[part for name in arrival.CHANNELS for part in moved[n][name]] for n in rows]
    turn, origin = turn.copy(), origin.copy()
    turn[rows], origin[rows] = (each[rows] for each in stood(build, told))
    return turn, origin
