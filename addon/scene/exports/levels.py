"""Levels of detail that an export put at one place: each thing stays in its finest."""

from collections.abc import Generator, Sequence
from functools import partial

import numpy as np

from ...core.parts import levels
from ...core.slices import sliced
from .split import Split


def coarser(splits: Sequence[Split], matrix: np.ndarray) -> Generator[None, None, np.ndarray]:
    """(n,) which objects, each of a split and standing at a matrix (n, 4, 4), are a coarser level of another."""
    by_mesh = {split.form.mesh: split for split in splits}
    known, number = list(by_mesh.values()), {mesh: n for n, mesh in enumerate(by_mesh)}
    things = levels.Things(
        kind=np.array([number[split.form.mesh] for split in splits], dtype=np.intp),
        frame=matrix,
        low=np.array([split.solids.boxes.low.min(axis=0, initial=np.inf) for split in known]),
        high=np.array([split.solids.boxes.high.max(axis=0, initial=-np.inf) for split in known]),
        triangles=np.array([len(split.form.triangles) * bool(len(split.closed)) for split in known]),
        closed=np.array([split.closed.all() for split in known]),
        volume=np.array([split.solids.volume.sum() for split in known]),
        missing=np.array([np.linalg.norm(split.solids.facing.sum(axis=0)) for split in known]),
        corners=lambda kind: known[kind].form.points[known[kind].form.triangles],
    )
    return (yield from sliced(partial(levels.coarser, things)))


def told(rough: np.ndarray) -> tuple[str, ...]:
    """What is said of it."""
    left_out, count = int(rough.sum()), len(rough)
    if not left_out:
        return ()
    return (f"{left_out} of {count} objects are coarser levels of detail of others at the same place and left out.",)
