"""Where a picture is sampled."""

from dataclasses import dataclass

import numpy as np

from .lens import Lens

_GOLDEN = 0.6180339887498949
_FLAT = 2.0  # the samples of a row lie as many times farther apart than the rows: the shifts fill it in
_CELLS = 64  # a side, of the picture of what boxes take up

Rectangle = tuple[float, float, float, float]  # left, lower, right, upper side in pixels


@dataclass(frozen=True)
class Grid:
    """Rows of samples over a rectangle of pixels: the middles of all of its pixels; or each row shifted against the one
    below by the golden section of a step, so that no two rows repeat each other (Kronecker's lattice) and what stands
    in rows and columns, as bricks do, does not fall between them. Always the same ones: nothing is drawn by chance."""

    left: float
    low: float
    step_x: float
    step_y: float
    columns: int
    rows: int
    is_every_pixel: bool

    @classmethod
    def over(cls, where: Rectangle, most: float, pixel_aspect: float) -> "Grid":
        """About `most` samples, or one for each pixel where those are fewer."""
        left, low = np.floor(where[:2]).tolist()
        right, high = np.ceil(where[2:]).tolist()
        wide, tall = max(right - left, 0.0), max(high - low, 0.0)
        if wide * tall <= most:
            return cls(left, low, 1.0, 1.0, int(wide), int(tall), True)
        rows = int(np.clip(np.sqrt(_FLAT * pixel_aspect * most * tall / wide), 1.0, tall))
        columns = int(np.clip(most / rows, 1.0, wide))
        return cls(left, low, wide / columns, tall / rows, columns, rows, False)

    @property
    def samples(self) -> int:
        return self.columns * self.rows

    @property
    def x(self) -> np.ndarray:
        """(R,) of the first sample of each row."""
        shift = np.full(self.rows, 0.5) if self.is_every_pixel else np.mod(_GOLDEN * np.arange(self.rows), 1.0)
        return self.left + self.step_x * shift

    @property
    def y(self) -> np.ndarray:
        """(R,) of each row."""
        return self.low + self.step_y * (np.arange(self.rows) + 0.5)

    def at(self, row: np.ndarray, column: np.ndarray) -> np.ndarray:
        """Places (..., 2) of samples."""
        return np.stack([self.x[row] + self.step_x * column, self.y[row]], axis=-1)

    @property
    def places(self) -> np.ndarray:
        """(R, C, 2) of all samples."""
        return self.at(*np.indices((self.rows, self.columns)))


def spanned(lens: Lens, boxes: np.ndarray) -> tuple[Rectangle, float]:
    """What boxes (8, N, 3), told by their corners, span of the bordered frame, and about what share of that they take
    up one for all, rather more. All of the frame, and 1, where one reaches behind the lens; right before left, or upper
    below lower, where they lie beside it."""
    left, lower, right, upper = (np.array(lens.border) * np.array([lens.width_px, lens.height_px] * 2)).tolist()
    px, _ = lens.project(boxes)
    if np.isnan(px).any():
        return (left, lower, right, upper), 1.0
    low, high = px.min(axis=0), px.max(axis=0)
    first, last = np.maximum(low.min(axis=0), (left, lower)), np.minimum(high.max(axis=0), (right, upper))
    size = last - first
    if (size <= 0.0).any():
        return (*first.tolist(), *last.tolist()), 1.0
    start, end = np.floor(_CELLS * (low - first) / size), np.ceil(_CELLS * (high - first) / size)
    (x, y), (u, v) = (np.clip(each, 0, _CELLS).astype(int).T for each in (start, end))
    steps = np.zeros((_CELLS + 1, _CELLS + 1))
    for across, up, one in ((x, y, 1.0), (u, v, 1.0), (x, v, -1.0), (u, y, -1.0)):
        np.add.at(steps, (across, up), one)
    covered = steps.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0.0
    return (*first.tolist(), *last.tolist()), max(float(covered.mean()), 1.0 / _CELLS**2)
