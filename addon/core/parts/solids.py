"""What shells measure, however they lie."""

from dataclasses import dataclass

import numpy as np

from ..build.boxes import Boxes

_ALONG = 0.999  # cosine from which a face looks along an axis
_PLAIN = 0.3  # share of the surface that looks along the file's axes where these are the shell's own
_SOME = 0.02  # share of the surface that looks along an axis which is the shell's own
_WALL = 0.3  # share of what looks across the first axis that has one direction where it is a wall and not round
_FACET = 0.02  # share of what looks elsewhere that a triangle of a wall has
_FACET_OF_ROUND = 0.05  # and one of a round surface, told by two like widths, has not
_LIKE = 0.03
_MOST = 250_000  # shells whose axes are looked for; what has more is no build
_OUTSIDE = 1e-4  # of the largest side: what is nearer than this to a box's face lies on it


@dataclass(frozen=True)
class Solids:
    """S shells: their boxes, with those of their bodies, in the file's axes; volume (S,), area (S,), and size (S, 3)
    along each one's own axes, those its largest faces look along; and the way that open ones' faces look on the whole,
    as long as the area (S, 3) of what is missing."""

    boxes: Boxes
    volume: np.ndarray
    area: np.ndarray
    size: np.ndarray
    facing: np.ndarray

    @classmethod
    def of(cls, triangles: np.ndarray, starts: np.ndarray) -> "Solids":
        """Of triangles (T, 3, 3), shell after shell, of which each begins at one of `starts` (S,)."""
        if not len(starts):
            nothing = np.zeros((0, 3))
            return cls(Boxes(nothing, nothing, nothing, nothing), np.zeros(0), np.zeros(0), nothing, nothing)
        a, b, c = np.moveaxis(triangles, 1, 0)
        normal = 0.5 * np.cross(b - a, c - a)
        area = np.sqrt((normal * normal).sum(axis=1))
        flat = normal / np.maximum(area, 1e-300)[:, None]
        boxes = boxes_of(triangles, starts)
        middle = np.repeat(0.5 * (boxes.low + boxes.high), np.diff(np.r_[starts, len(triangles)]), axis=0)
        volume = np.add.reduceat(((a - middle) * normal).sum(axis=1), starts) / 3
        facing = np.add.reduceat(normal, starts) * (-1.0 if volume.sum() < 0 else 1.0)  # inside out as a whole
        total = np.add.reduceat(area, starts)
        size = boxes.high - boxes.low
        turned = np.flatnonzero(_may_be_turned(flat, area, starts, total, size))
        for n in turned if len(turned) <= _MOST else ():
            own = slice(starts[n], starts[n + 1] if n + 1 < len(starts) else None)
            axes = _axes(flat[own], area[own])
            if axes is not None:
                size[n] = np.ptp(triangles[own].reshape(-1, 3) @ axes.T, axis=0)
        return cls(boxes, np.abs(volume), total, size, facing)

    def copies(self, which: np.ndarray, shift: np.ndarray) -> "Solids":
        """Of copies of these, each shifted (n, 3) from the one that it is a copy of."""
        ends = (getattr(self.boxes, end)[which] + shift for end in ("low", "high", "body_low", "body_high"))
        return Solids(Boxes(*ends), self.volume[which], self.area[which], self.size[which], self.facing[which])


def _may_be_turned(normals, area, starts, total, size) -> np.ndarray:
    """(S,) whose axes may be others than the file's: little looks along these, or along one alone and walls beside."""
    looks = np.abs(normals) > _ALONG
    along = np.add.reduceat(np.where(looks, area[:, None], 0.0), starts)
    elsewhere = np.where(looks.any(axis=1), 0.0, area)
    one, other = (np.take_along_axis(size, (along.argmax(axis=1)[:, None] + n) % 3, 1)[:, 0] for n in (1, 2))
    is_round = np.abs(one - other) <= _LIKE * one
    most = np.where(is_round, _FACET_OF_ROUND, _FACET) * np.add.reduceat(elsewhere, starts)
    walled = np.maximum.reduceat(elsewhere, starts) > most
    lone = (along > _SOME * total[:, None]).sum(axis=1) < 2
    return (along.sum(axis=1) < _PLAIN * total) | (lone & walled)


def boxes_of(triangles: np.ndarray, starts: np.ndarray) -> Boxes:
    """What `boxes.box` tells of each shell's vertices; triangles, or points (P, 1, 3), and starts as above."""
    number = np.repeat(np.arange(len(starts)), np.diff(np.r_[starts, len(triangles)]))
    low = np.minimum.reduceat(triangles.min(axis=1), starts)
    high = np.maximum.reduceat(triangles.max(axis=1), starts)
    near = (_OUTSIDE * (high - low).max(axis=1))[number][:, None, None]
    outside = (triangles - low[number][:, None] <= near) | (high[number][:, None] - triangles <= near)
    body_low, body_high = np.empty_like(low), np.empty_like(high)
    for axis in range(3):
        on_wall = outside[:, :, axis - 1] | outside[:, :, axis - 2]
        values = triangles[:, :, axis]
        body_low[:, axis] = np.minimum.reduceat(np.where(on_wall, values, np.inf).min(axis=1), starts)
        body_high[:, axis] = np.maximum.reduceat(np.where(on_wall, values, -np.inf).max(axis=1), starts)
    return Boxes(low, high, body_low, body_high)


def _axes(normals: np.ndarray, area: np.ndarray) -> np.ndarray | None:
    """Three directions (3, 3) at right angles: where most of the surface looks, and most of what is square to it; None
    where it is round about a file's axis."""
    first, _ = _commonest(normals, area)
    square = np.abs(normals @ first) < 0.02
    second, share = _commonest(normals[square], area[square]) if square.any() else (np.roll(first, 1), 0.0)
    if share < _WALL and np.abs(first).max() > _ALONG:
        return None
    second = second - (second @ first) * first
    second /= max(np.linalg.norm(second), 1e-300)
    return np.stack([first, second, np.cross(first, second)])


def _commonest(normals: np.ndarray, area: np.ndarray) -> tuple[np.ndarray, float]:
    """The direction that most area looks along, either way, and the share that does."""
    tried = normals[np.argsort(-area, kind="stable")[:12]]
    along = (np.abs(tried @ normals.T) > _ALONG) @ area
    return tried[along.argmax()], along.max() / max(area.sum(), 1e-300)
