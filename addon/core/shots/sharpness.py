"""How sharp a photographed plate is, from the edges that it shows: what is finer than that, the plate could not hold.

Slanted-edge method of ISO 12233: an edge that crosses the pixel grid at a slant is sampled finer than the grid by its
own rows; the derivative of that edge spread is the line spread, whose Fourier transform is the modulation transfer
function (MTF). Here the edges are not of a chart but found in the plate: straight ones with flat sides.
"""

from dataclasses import dataclass

import numpy as np

_TILE_PX = 32
_STEP_PX = 8
_TILES = 800  # strongest ones looked at
_ALIGNED = 0.95  # of a tile's structure tensor: less is no one straight edge
_LEAST_SLANT, _MOST_SLANT = 0.03, 0.8  # slope against the grid: straighter is not sampled finer, steeper seen turned
_STRAIGHT_PX = 0.25  # rms distance of the rows' edges from a line
_FLAT = 0.12  # of the step: how much a side may vary
_LEAST_STEP = 0.08  # linear light, of the plate's brightest: fainter edges drown in grain
_OVER = 4  # samples of the edge spread a pixel
_REACH_PX = 11.0  # of the edge spread on each side
_FLAT_TOP = 0.6  # share of the window that leaves the line spread as it is
_FEWEST = 5  # edges that a figure needs
_BEST = 0.8  # the plane in focus is what a build must match: this quantile of the edges' MTF50
_GAUSS_50, _GAUSS_10 = 0.18739, 0.34153  # cycles at which exp(-2 (pi f)^2) is a half and a tenth
_NYQUIST = 0.5  # cycles a pixel; finer detail a pixel grid shows as something else


@dataclass(frozen=True)
class Sharpness:
    """What the sharpest edges of a plate tell; lengths in the plate's pixels."""

    mtf50: float  # cycles a pixel at which half of the contrast is left
    mtf10: float  # at which a tenth is: the limit of what is resolved
    edges: int  # measured

    @property
    def blur_px(self) -> float:
        """Standard deviation of the Gaussian blur with this MTF50."""
        return _GAUSS_50 / self.mtf50

    @property
    def finest_px(self) -> float:
        """Width of the finest line that the plate resolves: half a wave at `mtf10`, at least a pixel."""
        return 0.5 / min(self.mtf10, _NYQUIST)


def sharpness(light: np.ndarray) -> Sharpness | None:
    """The sharpness of a picture (rows, columns) of linear light; None where it shows too few clean edges."""
    light = np.asarray(light, np.float64)
    brightest = float(np.percentile(light, 99.5))
    if min(light.shape) < _TILE_PX or brightest <= 0.0:
        return None
    found = [curve for tile in _tiles(light) if (curve := edge_mtf(tile, _LEAST_STEP * brightest)) is not None]
    if len(found) < _FEWEST:
        return None
    halves, tenths = (np.array([frequency(curve, level) for curve in found]) for level in (0.5, 0.1))
    return Sharpness(float(np.quantile(halves, _BEST)), float(np.quantile(tenths, _BEST)), len(found))


def edge_mtf(tile: np.ndarray, least_step: float) -> np.ndarray | None:
    """The MTF (K, 2) across the one straight edge of a tile: cycles a pixel, and contrast; None where there is none.

    `least_step` is the least difference of light between the two sides.
    """
    if np.abs(np.diff(tile, axis=0)).sum() > np.abs(np.diff(tile, axis=1)).sum():
        tile = tile.T
    line = _line(tile)
    if line is None:
        return None
    start, slope = line
    rows, columns = tile.shape
    along = np.hypot(1.0, slope)
    away = (np.arange(columns) - start - slope * np.arange(rows)[:, None]) / along
    reach = min(_REACH_PX, float(np.abs(away).max(axis=1).min()))
    spread = _edge_spread(tile, away, reach)
    if spread is None or not _is_clean(spread, tile, away, least_step):
        return None
    return _transfer(spread)


def frequency(curve: np.ndarray, level: float) -> float:
    """Cycles a pixel at which a curve (K, 2) first falls to a level; its last frequency where it never does."""
    cycles, contrast = curve.T
    below = np.flatnonzero(contrast < level)
    if not len(below):
        return float(cycles[-1])
    k = below[0]
    return float(np.interp(level, (contrast[k], contrast[k - 1]), (cycles[k], cycles[k - 1])))


def _tiles(light: np.ndarray):
    """The tiles that hold one strong edge each, strongest first."""
    calm = _calmed(_calmed(light))
    right, up = np.gradient(calm, axis=1), np.gradient(calm, axis=0)
    xx, xy, yy = (_sums(part) for part in (right * right, right * up, up * up))
    whole = xx + yy
    aligned = np.hypot(xx - yy, 2.0 * xy) > _ALIGNED * whole
    strength = np.where(aligned, whole, 0.0)
    for number in np.argsort(-strength, axis=None, kind="stable")[:_TILES]:
        row, column = np.unravel_index(number, strength.shape)
        if strength[row, column] > 0.0:
            yield light[row * _STEP_PX : row * _STEP_PX + _TILE_PX, column * _STEP_PX : column * _STEP_PX + _TILE_PX]


def _calmed(light: np.ndarray) -> np.ndarray:
    """Weights 1 2 1 both ways, so that grain hides no edge from the search."""
    wide = np.pad(light, 1, mode="edge")
    across = 0.25 * wide[:, :-2] + 0.5 * wide[:, 1:-1] + 0.25 * wide[:, 2:]
    return 0.25 * across[:-2] + 0.5 * across[1:-1] + 0.25 * across[2:]


def _sums(values: np.ndarray) -> np.ndarray:
    """Sums over all tiles, (tiles up, tiles across)."""
    table = np.pad(values.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    low = [np.arange(0, side - _TILE_PX + 1, _STEP_PX) for side in values.shape]
    high = [start + _TILE_PX for start in low]
    return table[np.ix_(*high)] - table[np.ix_(low[0], high[1])] - table[np.ix_(high[0], low[1])] + table[np.ix_(*low)]


def _line(tile: np.ndarray) -> tuple[float, float] | None:
    """Where the edge stands in row 0 and how far it goes aside a row; None where it is no straight slanted line."""
    change = np.abs(np.diff(tile, axis=1))
    place, row = np.arange(change.shape[1]) + 0.5, np.arange(len(tile))
    near = np.ones_like(change)
    start = slope = 0.0
    for reach in (None, 8.0, 5.0):
        if reach is not None:
            near = np.clip(reach + 1.0 - np.abs(place - start - slope * row[:, None]), 0.0, 1.0)
        weight = (change * near) ** 2  # the square keeps grain and the tile's far sides out
        total = weight.sum(axis=1)
        if not (total > 0.0).all():
            return None
        centre = (weight * place).sum(axis=1) / total
        slope, start = np.polyfit(row, centre, 1)
    rms = float(np.sqrt(np.mean((centre - start - slope * row) ** 2)))
    if rms > _STRAIGHT_PX or not _LEAST_SLANT <= abs(slope) <= _MOST_SLANT:
        return None
    return float(start), float(slope)


def _edge_spread(tile: np.ndarray, away: np.ndarray, reach: float) -> np.ndarray | None:
    """Mean light over distance from the edge, `_OVER` samples a pixel; None where rows leave gaps."""
    half = int(reach * _OVER)
    if half < 4 * _OVER:
        return None
    bin_of = np.floor(away * _OVER + 0.5).astype(int) + half
    inside = (bin_of >= 0) & (bin_of <= 2 * half)
    count = np.bincount(bin_of[inside], minlength=2 * half + 1)
    if not count.all():
        return None
    light, place = (np.bincount(bin_of[inside], each[inside], 2 * half + 1) / count for each in (tile, away))
    return np.interp(np.arange(-half, half + 1) / _OVER, place, light)  # a bin's rows may lie all to one side in it


def _is_clean(spread: np.ndarray, tile: np.ndarray, away: np.ndarray, least_step: float) -> bool:
    """Whether both sides are flat and the step is strong enough."""
    outer = len(spread) // 5
    step = abs(float(spread[-outer:].mean() - spread[:outer].mean()))
    if step < least_step:
        return False
    sides = (tile[away < -0.6 * _REACH_PX], tile[away > 0.6 * _REACH_PX])
    return all(float(side.std()) < _FLAT * step for side in sides if len(side))


def _transfer(spread: np.ndarray) -> np.ndarray:
    """The MTF of an edge spread: its derivative, under a window about its middle, transformed and set right for both
    the width of the bins and the derivative's reach (ISO 12233)."""
    line = np.diff(spread)
    place = np.arange(len(line))
    peak = float((np.abs(line) * place).sum() / np.abs(line).sum())
    half = max(peak, len(line) - 1 - peak)
    far = np.clip((np.abs(place - peak) / half - _FLAT_TOP) / (1.0 - _FLAT_TOP), 0.0, 1.0)
    line = line * (0.5 + 0.5 * np.cos(np.pi * far))  # a Hamming window, as is usual, would narrow a soft edge by 17 %
    contrast = np.abs(np.fft.rfft(line, 16 * len(line)))
    cycles = np.arange(len(contrast)) / (16 * len(line)) * _OVER
    kept = cycles <= 2.0 * _NYQUIST
    cycles, contrast = cycles[kept], contrast[kept] / contrast[0]
    return np.stack((cycles, contrast / np.sinc(cycles / _OVER) ** 2), axis=1)
