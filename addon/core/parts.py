"""Parts as solids: the body of a mesh as boxes, and its studs told apart from it, in the part's own axes and mm."""

from dataclasses import dataclass

import numpy as np

from . import lattice

# Trade sizes in millimetres (common practice, no published source).
PITCH = lattice.PITCH_MM
PLATE = lattice.PLATE_MM
STUD_HEIGHT = (1.4, 2.05)  # lowest and highest stud met in exports
STUD_INSET = 1.0  # a stud's edge stays at least this far inside the outline; nominally (8.0 - 4.8) / 2
STUD_APART = 2.5  # least gap between two studs side by side; nominally 8.0 - 4.8

_SAME = 0.02  # heights this close are one


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

    @property
    def stud_direction(self) -> np.ndarray:
        direction = np.zeros(3)
        if self.stud_axis >= 0:
            direction[self.stud_axis] = self.stud_sign
        return direction

    @property
    def full_grid(self) -> bool:
        """Whether a stud stands on every pitch of the body's face, so that they need not be looked up one by one."""
        size = np.delete(self.body_high - self.body_low, self.stud_axis) if self.stud_axis >= 0 else np.zeros(2)
        return len(self.studs) > 0 and len(self.studs) == int(np.rint(size / PITCH).prod())


def measured(vertices: np.ndarray, triangles: np.ndarray) -> Part:
    """The part of a mesh, vertices (V, 3) in mm and triangles (T, 3)."""
    low, high, wall_low, wall_high = lattice.box(vertices)
    for axis in (2, 1, 0):
        for sign, stands_out in ((1, high - wall_high), (-1, wall_low - low)):
            height = _stud_height(stands_out[axis], high[axis] - low[axis])
            if height and _ends_inside(vertices, low, high, axis, sign):
                body_low, body_high = low.copy(), high.copy()
                if sign > 0:
                    body_high[axis] -= height
                else:
                    body_low[axis] += height
                studs = _studs(vertices, body_low, body_high, axis, sign)
                boxes = _boxes(vertices[triangles], body_low, body_high, axis)
                return Part(vertices, body_low, body_high, boxes, axis, sign, studs)
    return Part(
        vertices, low, high, _boxes(vertices[triangles], low, high, _upright(high - low)), -1, 0, np.zeros((0, 3))
    )


def _stud_height(stands_out: float, height: float) -> float:
    """How far studs stand out over a part's walls or, where it tapers, over a whole number of plates; 0 for none."""
    return float(next((h for h in (stands_out, height % PLATE) if STUD_HEIGHT[0] <= h <= STUD_HEIGHT[1]), 0.0))


def _ends_inside(vertices: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int, sign: int) -> bool:
    """Whether all that stands out on one side keeps away from the outline, as studs do."""
    depth = (high[axis] - vertices[:, axis]) if sign > 0 else (vertices[:, axis] - low[axis])
    across = [other for other in range(3) if other != axis]
    standing = vertices[depth < STUD_HEIGHT[0] - 0.1][:, across]
    return bool(np.minimum(standing - low[across], high[across] - standing).min() >= STUD_INSET)


def _upright(size: np.ndarray) -> int:
    """The likeliest upright axis of a part without studs: a whole number of plates high, but not of pitches."""
    plates, pitches = (np.abs(size / step - np.rint(size / step)) * step for step in (PLATE, 0.5 * PITCH))
    return max((2, 1, 0), key=lambda axis: int(plates[axis] < 0.3) - int(pitches[axis] < 0.5))


def _studs(vertices: np.ndarray, body_low: np.ndarray, body_high: np.ndarray, axis: int, sign: int) -> np.ndarray:
    """Centres (S, 3) of what stands out of a body's face: vertices apart by less than a gap belong to one stud."""
    face = body_high[axis] if sign > 0 else body_low[axis]
    standing = vertices[sign * (vertices[:, axis] - face) > 0.5]
    across = [other for other in range(3) if other != axis]
    groups = [standing]
    for other in across:
        groups = [part for group in groups for part in _apart(group, other)]
    centres = np.array([0.5 * (group.min(axis=0) + group.max(axis=0)) for group in groups])
    centres[:, axis] = face
    return centres


def _apart(points: np.ndarray, axis: int) -> list[np.ndarray]:
    order = points[np.argsort(points[:, axis], kind="stable")]
    return np.split(order, np.flatnonzero(np.diff(order[:, axis]) > STUD_APART) + 1)


def _boxes(triangles: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int) -> np.ndarray:
    """The body as boxes: in each pitch of the footprint, from the lowest to the highest point of the mesh there."""
    across = [other for other in range(3) if other != axis]
    cells = np.maximum(np.rint((high - low)[across] / PITCH).astype(int), 1)
    lines = [np.linspace(low[other], high[other], count + 1) for other, count in zip(across, cells, strict=True)]
    pieces = triangles
    for other, line in zip(across, lines, strict=True):
        for position in line[1:-1]:
            pieces = _cut(pieces, other, position)
            pieces = pieces[np.abs(pieces[:, :, other] - position).max(axis=1) > 1e-6]  # a wall between two cells
    middle = pieces.mean(axis=1)[:, across]
    at = [np.clip(np.searchsorted(line, middle[:, n]) - 1, 0, cells[n] - 1) for n, line in enumerate(lines)]
    heights = np.clip(pieces[:, :, axis], low[axis], high[axis])
    bottom, top = np.full(cells, np.inf), np.full(cells, -np.inf)
    np.minimum.at(bottom, tuple(at), heights.min(axis=1))
    np.maximum.at(top, tuple(at), heights.max(axis=1))
    return np.array([_box(lines, span, heights, axis) for *span, heights in _merged(bottom, top)], dtype=float).reshape(
        -1, 2, 3
    )


def _cut(triangles: np.ndarray, axis: int, position: float) -> np.ndarray:
    """Triangles (T, 3, 3) cut in two by a plane; those that do not cross it stay whole."""
    side = np.sign(np.where(np.abs(triangles[:, :, axis] - position) < 1e-6, 0.0, triangles[:, :, axis] - position))
    crossing = (side.min(axis=1) < 0) & (side.max(axis=1) > 0)
    kept, cut, side = triangles[~crossing], triangles[crossing], side[crossing]
    if not len(cut):
        return kept
    # Turned so that the first corner is alone on its side of the plane.
    alone = (side != 0) & (side * np.roll(side, -1, axis=1) <= 0) & (side * np.roll(side, 1, axis=1) <= 0)
    first = alone.argmax(axis=1)
    turned = np.take_along_axis(cut, ((first[:, None] + np.arange(3)) % 3)[:, :, None], axis=1)
    a, b, c = turned[:, 0], turned[:, 1], turned[:, 2]
    ab, ac = (_on_plane(a, other, axis, position) for other in (b, c))
    return np.concatenate(
        [kept, np.stack([a, ab, ac], axis=1), np.stack([ab, b, c], axis=1), np.stack([ab, c, ac], axis=1)]
    )


def _on_plane(a: np.ndarray, b: np.ndarray, axis: int, position: float) -> np.ndarray:
    share = (position - a[:, axis]) / (b[:, axis] - a[:, axis])
    point = a + share[:, None] * (b - a)
    point[:, axis] = position
    return point


def _merged(bottom: np.ndarray, top: np.ndarray):
    """Rectangles of cells with one bottom and one top: (first and last cell in x and in y, heights)."""
    left = top > bottom + _SAME
    while left.any():
        i, j = np.argwhere(left)[0]

        def alike(area):
            same = np.abs(bottom[area] - bottom[i, j]) < _SAME  # noqa: B023  used at once
            return bool((left[area] & same & (np.abs(top[area] - top[i, j]) < _SAME)).all())  # noqa: B023

        far_j = j
        while far_j + 1 < left.shape[1] and alike(np.s_[i : i + 1, far_j + 1 : far_j + 2]):
            far_j += 1
        far_i = i
        while far_i + 1 < left.shape[0] and alike(np.s_[far_i + 1 : far_i + 2, j : far_j + 1]):
            far_i += 1
        left[i : far_i + 1, j : far_j + 1] = False
        yield (i, far_i), (j, far_j), (bottom[i, j], top[i, j])


def _box(lines, span, heights, axis: int) -> list[list[float]]:
    corners = [[line[first], line[last + 1]] for line, (first, last) in zip(lines, span, strict=True)]
    corners.insert(axis, list(heights))
    return [[ends[0] for ends in corners], [ends[1] for ends in corners]]
