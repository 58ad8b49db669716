"""Which brick is which: a key from the part's shape and the brick's rest pose, the same in every shot and version.

Measures are rounded to a coarse grid whose lines lie between the round numbers that builds are made of, so that
the last bits of an importer never decide.
"""

import numpy as np

from ..draws import mixed

_STEP_MM = 0.05
_STEP_TURN = 1.0 / 64.0
_OFF_GRID = 0.3141  # of a step: no multiple of 0.005 mm comes near a grid line


def fingerprint(vertices: np.ndarray) -> np.uint64:
    """A part's shape from its vertices (V, 3) in mm, whatever their order, copies, or distance to the origin."""
    centred = vertices - 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    points = np.unique(chained(_steps(centred, _STEP_MM)))
    with np.errstate(over="ignore"):
        return np.uint64(mixed(np.add.reduce(points, dtype=np.uint64)))


def keys(fingerprints: np.ndarray, turn: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Identity (N,) of bricks from their parts' fingerprints (N,), rotations (N, 3, 3) and centres (N, 3) in mm."""
    pose = np.concatenate([_steps(centre, _STEP_MM), _steps(turn.reshape(-1, 9), _STEP_TURN)], axis=1)
    return mixed(chained(pose) ^ np.asarray(fingerprints, dtype=np.uint64))


def duplicates(bricks_keys: np.ndarray) -> int:
    """How many bricks stand exactly where an equal one already stands."""
    return len(bricks_keys) - len(np.unique(bricks_keys))


def _steps(values: np.ndarray, step: float) -> np.ndarray:
    return np.floor(values / step + _OFF_GRID).astype(np.int64).astype(np.uint64)


def chained(rows: np.ndarray) -> np.ndarray:
    """One word (N,) that tells rows (N, M) of whole numbers apart."""
    word = np.zeros(len(rows), dtype=np.uint64)
    for column in rows.T:
        word = mixed(word ^ column.astype(np.uint64))
    return word
