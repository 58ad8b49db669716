"""Points on the six sides of a part: what is seen of it along each of its own axes, from outside."""

from dataclasses import dataclass

import numpy as np

from ...parts.parts import Part

SIDES = 6  # -x, +x, -y, +y, -z, +z of the part's own axes
_APART_MM, _MOST = 4.0, 4  # points along a side, at least so near each other until there are so many
_TOUCHES = 1e-9


@dataclass(frozen=True)
class Samples:
    """S points of a part's surface, each standing for as much of its side as the others of that side."""

    side: np.ndarray  # (S,) 0 to 5
    place: np.ndarray  # (S, 3) in the part's axes, mm
    normal: np.ndarray  # (S, 3) outward, of length 1


def samples(part: Part, finer: int = 1) -> Samples:
    """The points of a part; `finer` times as many along each way."""
    low, high = part.body_low, part.body_high
    found = [_of_side(part, low, high, side, finer) for side in range(SIDES)]
    number = [len(place) for place, _ in found]
    place, normal = (np.concatenate([each[n] for each in found]) for n in (0, 1))
    return Samples(np.repeat(np.arange(SIDES), number), place, normal)


def _of_side(part: Part, low: np.ndarray, high: np.ndarray, side: int, finer: int) -> tuple[np.ndarray, np.ndarray]:
    axis, sign = side // 2, 2 * (side % 2) - 1
    across = [other for other in range(3) if other != axis]
    ways = [_spread(low[other], high[other], finer) for other in across]
    eye = np.empty((len(ways[0]) * len(ways[1]), 3))
    eye[:, across] = np.stack(np.meshgrid(*ways, indexing="ij"), axis=-1).reshape(-1, 2)
    eye[:, axis] = high[axis] if sign > 0 else low[axis]
    deep, normal = np.full(len(eye), np.inf), np.zeros_like(eye)
    for box, hull in zip(part.boxes, part.hulls or (None,) * len(part.boxes), strict=True):
        half = 0.5 * (box[1] - box[0])
        planes = np.concatenate([-np.eye(3), np.eye(3)]) if hull is None else hull.normals / half
        if hull is None:
            ends = np.concatenate([-box[0], box[1]])
        else:
            length = np.sqrt((planes * planes).sum(axis=1))
            corners = hull.corners * half + 0.5 * (box[0] + box[1])
            planes = planes / length[:, None]
            ends = (corners @ planes.T).max(axis=0)
        entry, which = _entry(eye, axis, sign, planes, ends)
        nearer = entry < deep - _TOUCHES
        deep[nearer], normal[nearer] = entry[nearer], planes[which[nearer]]
    met = np.isfinite(deep)
    eye[:, axis] -= sign * np.where(met, deep, 0.0)
    return eye[met], normal[met]


def _spread(low: float, high: float, finer: int) -> np.ndarray:
    number = finer * int(np.clip(np.ceil((high - low) / _APART_MM), 1, _MOST))
    return low + (np.arange(number) + 0.5) * ((high - low) / number)


def _entry(
    eye: np.ndarray, axis: int, sign: int, planes: np.ndarray, ends: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """How far (S,) from each point, looking against the side's direction, a convex solid begins, infinite where it is
    missed; and by which of its planes (F, 3), with their places `ends` (F,), it is entered."""
    slope = -sign * planes[:, axis]
    over = eye @ planes.T - ends  # positive: outside of that plane
    facing, leaving = slope < -_TOUCHES, slope > _TOUCHES
    with np.errstate(divide="ignore", invalid="ignore"):
        at = over / -slope
    enter = np.where(facing, at, -np.inf)
    leave = np.where(leaving, at, np.inf).min(axis=1)
    beside = (over[:, ~facing & ~leaving] > _TOUCHES).any(axis=1)
    first = enter.max(axis=1)
    return np.where((first < leave) & ~beside, np.maximum(first, 0.0), np.inf), enter.argmax(axis=1)
