"""Parts as solids: the body of a mesh as boxes, and its studs told apart from it, in the part's own axes and mm."""

from dataclasses import dataclass, field

import numpy as np

from ..build.boxes import box
from ..sizes import MET, TRADE
from . import envelope, studs
from .hull import Hull

_ON_GRID_MM = 0.02


def _none() -> np.ndarray:
    return np.zeros((0, 3))


@dataclass(frozen=True)
class Part:
    """A mesh that bricks share."""

    vertices: np.ndarray  # (V, 3)
    body_low: np.ndarray  # (3,) the box around the body, studs left out
    body_high: np.ndarray  # (3,)
    boxes: np.ndarray  # (B, 2, 3) boxes that hold the body and leave its openings free, such as an arch's
    stud_axis: int  # the axis its studs stand on, -1 where it has none
    stud_sign: int  # +1 or -1 along that axis
    studs: np.ndarray  # (S, 3) where the studs' axes leave the body
    side_studs: np.ndarray = field(default_factory=_none)  # (R, 3) where those leave it that point elsewhere
    side_ways: np.ndarray = field(default_factory=_none)  # (R, 3) and where they point, along an axis
    hulls: tuple[Hull | None, ...] = ()  # what fills each box where that is less than all of it; empty: all are full
    triangles: np.ndarray = field(default_factory=lambda: np.zeros((0, 3), dtype=np.int64))  # (T, 3) of the vertices

    @property
    def stud_direction(self) -> np.ndarray:
        direction = np.zeros(3)
        if self.stud_axis >= 0:
            direction[self.stud_axis] = self.stud_sign
        return direction

    @property
    def upright(self) -> int:
        """The axis that a part stands on: its studs', or the likeliest of one without."""
        return self.stud_axis if self.stud_axis >= 0 else _upright(self.body_high - self.body_low)

    @property
    def every_stud(self) -> tuple[np.ndarray, np.ndarray]:
        """Places (S + R, 3) and directions of all studs."""
        upright = np.tile(self.stud_direction, (len(self.studs), 1))
        return np.concatenate([self.studs, self.side_studs]), np.concatenate([upright, self.side_ways])

    @property
    def full_grid(self) -> bool:
        """Whether the studs stand on every pitch of a plain body's face, so that none need be looked up by itself."""
        face = (self.body_high if self.stud_sign > 0 else self.body_low)[self.stud_axis]
        if not len(self.studs) or len(self.side_studs) or len(self.boxes) > 1:
            return False
        if np.abs(self.studs[:, self.stud_axis] - face).max() > _ON_GRID_MM:
            return False
        size = np.delete(self.body_high - self.body_low, self.stud_axis)
        first = np.delete(self.studs - self.body_low, self.stud_axis, axis=1) - 0.5 * TRADE.pitch
        off = first - 0.5 * (size - np.rint(size / TRADE.pitch) * TRADE.pitch)
        on_grid = np.abs(off - np.rint(off / TRADE.pitch) * TRADE.pitch).max() < _ON_GRID_MM
        return bool(on_grid) and len(self.studs) == int(np.rint(size / TRADE.pitch).prod())


def measured(vertices: np.ndarray, triangles: np.ndarray) -> Part:
    """The part of a mesh, vertices (V, 3) in mm and triangles (T, 3)."""
    places, ways = studs.standing(vertices, triangles)
    axis, sign, height = (-1, 0, 0.0) if len(ways) else _stands(vertices)
    if len(ways):
        axis, sign = _commonest(ways)
    beside = ways @ (sign * np.eye(3)[axis]) < 0.5
    of_studs = studs.of_studs(vertices, places, ways)
    body = triangles[~of_studs[triangles].any(axis=1)]
    solid = vertices[~of_studs]
    low, high = solid.min(axis=0), solid.max(axis=0)
    if height and sign > 0:
        high[axis] -= height
    elif height:
        low[axis] += height
    feet = _feet(solid, low, high, axis, sign) if height else places[~beside]
    upright = axis if axis >= 0 else _upright(high - low)
    boxes, hulls = envelope.solids(vertices[body], low, high, upright)
    return Part(vertices, low, high, boxes, axis, sign, feet, places[beside], ways[beside], hulls, triangles)


def _stands(vertices: np.ndarray) -> tuple[int, int, float]:
    """Along which axis, which way and how far (mm) studs stand out of all walls around them; -1 and zeros for none."""
    low, high, wall_low, wall_high = box(vertices)
    for axis in (2, 1, 0):
        for sign, stands_out in ((1, high - wall_high), (-1, wall_low - low)):
            height = _stud_height(stands_out[axis], high[axis] - low[axis])
            if height and _ends_inside(vertices, low, high, axis, sign):
                return axis, sign, height
    return -1, 0, 0.0


def _commonest(ways: np.ndarray) -> tuple[int, int]:
    """The axis and the side that most directions (S, 3) point to; upright ones before others."""
    count = [(int((ways[:, axis] * sign > 0.5).sum()), axis, sign) for axis in range(3) for sign in (-1, 1)]
    _, axis, sign = max(count)
    return axis, sign


def _stud_height(stands_out: float, height: float) -> float:
    """How far studs stand out over a part's walls or, where it tapers, over a whole number of plates; 0 for none."""
    return float(next((h for h in (stands_out, height % TRADE.plate_height) if MET.stud_height.holds(h)), 0.0))


def _ends_inside(vertices: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int, sign: int) -> bool:
    """Whether all that stands out on one side keeps away from the outline, as studs do."""
    depth = (high[axis] - vertices[:, axis]) if sign > 0 else (vertices[:, axis] - low[axis])
    across = [other for other in range(3) if other != axis]
    standing = vertices[depth < MET.stud_height.least - 0.1][:, across]
    return bool(np.minimum(standing - low[across], high[across] - standing).min() >= MET.stud_inset)


def _upright(size: np.ndarray) -> int:
    """The likeliest upright axis of a part without studs: a whole number of plates high, but not of pitches."""
    plates, pitches = (
        np.abs(size / step - np.rint(size / step)) * step for step in (TRADE.plate_height, 0.5 * TRADE.pitch)
    )
    return max((2, 1, 0), key=lambda axis: int(plates[axis] < 0.3) - int(pitches[axis] < 0.5))


def _feet(vertices: np.ndarray, body_low: np.ndarray, body_high: np.ndarray, axis: int, sign: int) -> np.ndarray:
    """Centres (S, 3) of what stands out of a body's face: vertices apart by less than a gap belong to one stud."""
    face = body_high[axis] if sign > 0 else body_low[axis]
    standing = vertices[sign * (vertices[:, axis] - face) > 0.5]
    across = [other for other in range(3) if other != axis]
    groups = [standing]
    for other in (*across, *across):  # rows that are apart one way may have been as one the other way
        groups = [part for group in groups for part in _apart(group, other)]
    centres = np.array([0.5 * (group.min(axis=0) + group.max(axis=0)) for group in groups])
    centres[:, axis] = face
    return centres


def _apart(points: np.ndarray, axis: int) -> list[np.ndarray]:
    order = points[np.argsort(points[:, axis], kind="stable")]
    return np.split(order, np.flatnonzero(np.diff(order[:, axis]) > MET.stud_gap) + 1)
