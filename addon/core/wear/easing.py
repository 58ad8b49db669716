"""What a mould takes off a part so that it goes together: its sides stand back, its studs are thinner than the socket.

Clearance and play as a change of shape. Everything else of the mesh, sockets above all, stays on the pitch.
"""

import numpy as np

from ..parts.parts import Part
from ..sizes import MET, TRADE

_SIDE_MM = 0.3  # how deep below a side the mesh goes along with it; walls are four times as thick
_REACH_MM = 0.5 * (TRADE.pitch - MET.stud_gap)  # from its axis: what stands further off is another stud's
_FOOT_MM = 0.05  # below the face, and above it, where a stud's foot may lie


def eased(points: np.ndarray, part: Part, shrink: np.ndarray, play_mm: float) -> np.ndarray:
    """The points (V, 3) of a mesh in its part's axes, mm, after the mould's share.

    The faces of the body stand back as far as a body shrunk by `shrink` (3,) about its middle would; the radius of
    every stud is less by as much as it may move in its socket: by `play_mm` along both of the joint's axes at once.
    """
    middle, half = 0.5 * (part.body_low + part.body_high), 0.5 * (part.body_high - part.body_low)
    away = points - middle
    depth = np.maximum(half - np.abs(away), 0.0)
    share = np.clip(1.0 - depth / np.minimum(_SIDE_MM, half), 0.0, 1.0)
    back = np.sign(away) * share * half * (1.0 - shrink)
    back[np.abs(away) > half + _FOOT_MM] = 0.0  # studs, along their axis
    return points - back - _thinned(points, part, np.sqrt(2.0) * play_mm)


def _thinned(points: np.ndarray, part: Part, less_mm: float) -> np.ndarray:
    """How far (V, 3) the points of studs come nearer to the studs' axes."""
    inward = np.zeros_like(points)
    if not len(part.studs) or less_mm <= 0.0:
        return inward
    across = [axis for axis in range(3) if axis != part.stud_axis]
    above = (points[:, part.stud_axis] - part.studs[0, part.stud_axis]) * part.stud_sign
    of_stud = np.flatnonzero((above > -_FOOT_MM) & (above < MET.stud_height.most + _FOOT_MM))
    place, axes = points[of_stud][:, across], part.studs[:, across]
    for start in range(0, len(of_stud), 4096):  # a large plate has many studs
        rows = slice(start, start + 4096)
        gap = place[rows, None, :] - axes
        nearest = (gap**2).sum(axis=2).argmin(axis=1)
        arm = np.take_along_axis(gap, nearest[:, None, None], axis=1)[:, 0]
        length = np.sqrt((arm**2).sum(axis=1))
        step = np.where(length < _REACH_MM, np.minimum(less_mm, length), 0.0) / np.maximum(length, 1e-9)
        inward[of_stud[rows][:, None], across] = arm * step[:, None]
    return inward
