"""Where solids at odd angles to each other come near: a corner or an edge of one at a face or an edge of the other."""

from dataclasses import dataclass

import numpy as np

from .. import rigid
from . import interference
from .bricks import Pieces

_NEAR_MM = 0.02  # of the farthest: corners of a hull that lie in what meets
_ALONG = 0.05  # sine of an angle below which an edge or a face counts as lying across the normal


@dataclass(frozen=True)
class Askew:
    """How P pairs of boxes stand to each other; each contact's normal leads from the first to the second."""

    axes: np.ndarray  # (P, 3, 3) rows: x and y across the normal, x along an edge that meets there, and the normal
    place: np.ndarray  # (P, 3) middle of where they meet
    half: np.ndarray  # (P, 2) its half sizes along x and y, 0 for a corner
    gap: np.ndarray  # (P,) mm between them along the normal; negative where they overlap


def gaps(pieces: Pieces, pairs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The largest gap (P,) in mm that any direction shows between each pair's solids, and that direction (P, 3)."""
    depth, normal = interference.narrowest(pieces, pairs)
    return -depth, normal


def askew(pieces: Pieces, pairs: np.ndarray, normal: np.ndarray) -> Askew:
    """What meets along the normal (P, 3) of each pair (P, 2)."""
    i, j = pairs.T
    meeting = [_Feature(pieces, i, normal), _Feature(pieces, j, -normal)]
    x = _across(normal, np.where((meeting[0].free == 1)[:, None], meeting[0].longest, meeting[1].longest))
    axes = np.stack([x, np.cross(normal, x), normal], axis=1)
    spans = [[feature.span(axes[:, n]) for feature in meeting] for n in range(2)]
    low = np.stack([np.maximum(first[0], second[0]) for first, second in spans], axis=1)
    high = np.stack([np.minimum(first[1], second[1]) for first, second in spans], axis=1)
    ends = [rigid.dot(feature.middle, normal) for feature in meeting]
    at = np.column_stack([0.5 * (low + high), 0.5 * (ends[0] + ends[1])])
    place = rigid.turned(rigid.transpose(axes), at)
    return Askew(axes, place, np.maximum(0.5 * (high - low), 0.0), ends[1] - ends[0])


class _Feature:
    """The corner, edge or face of some solids that reaches farthest along a direction (P, 3)."""

    def __init__(self, pieces: Pieces, piece: np.ndarray, direction: np.ndarray):
        turn, half = pieces.turn[piece], pieces.half[piece]
        slope = rigid.turned(rigid.transpose(turn), direction)
        lies_across = np.abs(slope) < _ALONG
        self.free = lies_across.sum(axis=1)  # 0 for a corner, 1 for an edge, 2 for a face
        ahead = np.where(slope > 0, half, -half)
        nearest = pieces.centre[piece] + rigid.turned(turn, ahead)
        self._edges = turn * np.where(lies_across, half, 0.0)[:, None, :]  # in columns
        self.middle = nearest - rigid.turned(turn, np.where(lies_across, ahead, 0.0))
        self.middle = self.middle + direction * rigid.dot(direction, nearest - self.middle)[:, None]
        which = np.where(lies_across, half, 0.0).argmax(axis=1)
        self.longest = np.take_along_axis(turn, which[:, None, None], axis=2)[:, :, 0]
        for row in np.flatnonzero(pieces.hull[piece]):
            self._of_hull(row, pieces.solids(piece[[row]])[0][0], direction[row])

    def _of_hull(self, row: int, corners: np.ndarray, direction: np.ndarray) -> None:
        along = rigid.dot(corners, direction)
        ahead = corners[along > along.max() - _NEAR_MM]
        apart = ahead - ahead[rigid.length(ahead - ahead[0]).argmax()]
        x = _across(direction[None], apart[rigid.length(apart).argmax()][None])[0]
        frame = np.stack([x, np.cross(direction, x), direction])
        at = rigid.turned(frame, ahead)
        low, high = at[:, :2].min(axis=0), at[:, :2].max(axis=0)
        half = 0.5 * (high - low)
        self.middle[row] = rigid.turned(frame.T, np.array([*(0.5 * (low + high)), along.max()]))
        self._edges[row] = frame.T * np.array([*half, 0.0])
        self.free[row] = int((half > _NEAR_MM).sum())
        self.longest[row] = x

    def span(self, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """From where to where (P,) it reaches along a direction (P, 3)."""
        middle = rigid.dot(self.middle, direction)
        reach = np.abs(rigid.turned(rigid.transpose(self._edges), direction)).sum(axis=1)
        return middle - reach, middle + reach


def _across(normal: np.ndarray, vector: np.ndarray) -> np.ndarray:
    """Unit vectors (P, 3) across the normals, as near to the vectors as can be; any where these lie along them."""
    found = vector - normal * rigid.dot(vector, normal)[:, None]
    steepest = np.eye(3)[np.abs(normal).argmin(axis=1)]
    other = steepest - normal * rigid.dot(steepest, normal)[:, None]
    found = np.where((rigid.length(found) < 0.1)[:, None], other, found)
    return found / rigid.length(found)[:, None]
