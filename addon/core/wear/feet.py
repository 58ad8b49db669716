"""Where bricks have studs that a shader can find by counting pitches: dust lies thick at their feet, thin on top."""

from dataclasses import dataclass

import numpy as np

from .. import rigid
from ..build.bricks import Bricks
from ..sizes import TRADE

_OFF_MM = 0.1  # as far as a stud may stand beside its pitch
_STEP_MM = 0.5  # between places that are told apart to find the one that most bricks share
_UPRIGHT = 0.99
_DIGITS = 2  # of mm: told finer, the place would be another for each choice of bricks that are spread by micrometres


@dataclass(frozen=True)
class Feet:
    """The lattice of a build's studs, and who stands on it."""

    shift: np.ndarray  # (3,) mm in build axes: where an axis of most studs is; z is 0
    on: np.ndarray  # (N,) whether a brick has a stud on every pitch of its top, and each on an axis of the lattice


def feet(bricks: Bricks, turn: np.ndarray, origin: np.ndarray) -> Feet:
    """Looks at bricks whose part axes stand in the build by turn (N, 3, 3) and origin (N, 3) in mm."""
    on = np.zeros(len(bricks), dtype=bool)
    up = np.array([part.stud_direction for part in bricks.parts])[bricks.part]
    rows = np.flatnonzero(bricks.full_grid & (rigid.turned(turn, up)[:, 2] > _UPRIGHT))
    if not len(rows):
        return Feet(np.zeros(3), on)
    own = np.array([part.studs[0] if len(part.studs) else np.zeros(3) for part in bricks.parts])[bricks.part[rows]]
    shift = _shared(origin[rows] + rigid.turned(turn[rows], own))
    back = rigid.transpose(turn[rows])
    off = own + rigid.turned(back, origin[rows] - shift)
    off -= TRADE.pitch * np.rint(off / TRADE.pitch)
    flat = off * (1.0 - np.abs(up[rows]))  # how high it stands says nothing
    on[rows] = np.abs(flat).max(axis=1) < _OFF_MM
    return Feet(shift, on)


def _shared(axes: np.ndarray) -> np.ndarray:
    """The place (3,) within a pitch that most of some axes (K, 3) share, z 0."""
    steps = round(TRADE.pitch / _STEP_MM)
    step = np.rint(axes[:, :2] / _STEP_MM)
    spot = (step % steps).astype(int) @ (steps, 1)
    most = int(np.bincount(spot).argmax())
    beside = np.median((axes[:, :2] - step * _STEP_MM)[spot == most], axis=0)
    return np.array([*np.round(_STEP_MM * np.array(divmod(most, steps)) + beside, _DIGITS), 0.0])
