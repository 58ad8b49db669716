"""The brick table: the whole build as arrays, in the build's frame (millimetres, z up)."""

from dataclasses import dataclass

import numpy as np

from . import lattice, rigid

# Trade sizes in millimetres (common practice, no published source).
PITCH = lattice.PITCH_MM
PLATE = lattice.PLATE_MM
STUD_HEIGHT = (1.4, 2.05)  # lowest and highest stud met in exports
STUD_INSET = 1.0  # a stud's edge stays at least this far inside the outline; nominally (8.0 - 4.8) / 2


@dataclass(frozen=True)
class Part:
    """A mesh that bricks share, in its own axes and millimetres."""

    vertices: np.ndarray  # (V, 3)
    body_low: np.ndarray  # (3,) the box of the body, studs left out
    body_high: np.ndarray  # (3,)
    stud_axis: int  # the axis its studs stand on, -1 where it has none
    stud_sign: int  # +1 or -1 along that axis


@dataclass(frozen=True)
class Bricks:
    """N bricks at rest: a pose is a rotation, mirrored where the brick is, and a shift; the scale is in the part."""

    names: tuple[str, ...]
    parts: tuple[Part, ...]
    part: np.ndarray  # (N,) index into parts
    turn: np.ndarray  # (N, 3, 3) part axes to build axes
    origin: np.ndarray  # (N, 3) where the part's origin lies
    key: np.ndarray  # (N,) uint64 identity

    def __len__(self) -> int:
        return len(self.names)

    @property
    def centre_in_part(self) -> np.ndarray:
        """(N, 3) centre of each brick's body in its part's axes."""
        return _gather(self, lambda part: 0.5 * (part.body_low + part.body_high))

    @property
    def half_in_part(self) -> np.ndarray:
        """(N, 3) half sizes of each brick's body along its part's axes."""
        return _gather(self, lambda part: 0.5 * (part.body_high - part.body_low))

    @property
    def centre(self) -> np.ndarray:
        """(N, 3) centre of each brick's body in the build."""
        return self.origin + rigid.turned(self.turn, self.centre_in_part)

    @property
    def half(self) -> np.ndarray:
        """(N, 3) half sizes of the upright box around each brick's body."""
        return rigid.turned(np.abs(self.turn), self.half_in_part)

    @property
    def low(self) -> np.ndarray:
        return self.centre - self.half

    @property
    def high(self) -> np.ndarray:
        return self.centre + self.half

    @property
    def studs_up(self) -> np.ndarray:
        """(N,) +1 where the studs point up, -1 down, 0 sideways or none."""
        upright = self.turn[:, 2, :] * _gather(self, _stud_direction)
        along = upright[:, 0] + upright[:, 1] + upright[:, 2]
        return np.where(along > 0.9, 1, np.where(along < -0.9, -1, 0))


def _gather(bricks: Bricks, of_part) -> np.ndarray:
    if not bricks.parts:
        return np.zeros((0, 3))
    return np.stack([of_part(part) for part in bricks.parts])[bricks.part]


def _stud_direction(part: Part) -> np.ndarray:
    direction = np.zeros(3)
    if part.stud_axis >= 0:
        direction[part.stud_axis] = part.stud_sign
    return direction


def measured(vertices: np.ndarray) -> Part:
    """The part of a mesh's vertices (V, 3) in mm: which side its studs are on, and the box of its body without them."""
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
                return Part(vertices, body_low, body_high, axis, sign)
    return Part(vertices, low, high, -1, 0)


def _stud_height(stands_out: float, height: float) -> float:
    """How far studs stand out over a part's walls or, where it tapers, over a whole number of plates; 0 for none."""
    return float(next((h for h in (stands_out, height % PLATE) if STUD_HEIGHT[0] <= h <= STUD_HEIGHT[1]), 0.0))


def _ends_inside(vertices: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int, sign: int) -> bool:
    """Whether all that stands out on one side keeps away from the outline, as studs do."""
    depth = (high[axis] - vertices[:, axis]) if sign > 0 else (vertices[:, axis] - low[axis])
    across = [other for other in range(3) if other != axis]
    standing = vertices[depth < STUD_HEIGHT[0] - 0.1][:, across]
    return bool(np.minimum(standing - low[across], high[across] - standing).min() >= STUD_INSET)
