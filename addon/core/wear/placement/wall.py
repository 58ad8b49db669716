"""What stood to a wall: neither hands nor light got there."""

from dataclasses import replace

import numpy as np

from ... import units
from .placement import Placement


def walled(placement: Placement, turn: np.ndarray, wall_deg: float | None) -> Placement:
    """Where hands and light get to on bricks with the axes `turn` (N, 3, 3), part to build, that stood to a wall.

    wall_deg: where it stands, from the build's own x axis anticlockwise, seen from above; None for none.
    """
    if wall_deg is None:
        return placement
    angle = units.radians(wall_deg)
    along = np.cos(angle) * turn[:, 0, :] + np.sin(angle) * turn[:, 1, :]  # each of a part's axes, towards the wall
    free = 1.0 - np.maximum(np.stack([-along, along], axis=2).reshape(-1, 6), 0.0)
    light = free if placement.light is None else placement.light * free
    return replace(placement, reach=placement.reach * free, light=light)
