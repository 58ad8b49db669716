"""How sharp a photographed plate is, from the edges that it shows: what is finer than that, the plate could not hold.

Slanted-edge method of ISO 12233: an edge that crosses the pixel grid at a slant is sampled finer than the grid by its
own rows; the derivative of that edge spread is the line spread, whose Fourier transform is the modulation transfer
function (MTF). Here the edges are not of a chart but found in the plate: straight ones with flat sides. The spreads of
the sharpest are laid over each other, so that grain and the steps of a compression drown. A plate too soft for the
reach of a tile is looked at smaller, as a pyramid has it (Burt and Adelson 1983), and what the smaller pixels took from
the contrast is given back.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import erf, sqrt

import numpy as np

_TILE_PX = 32
_STEP_PX = 8  # of the plate
_TILES = 600  # strongest ones looked at
_CALM = 6
_GRAIN = 0.2  # share of the tiles that show nothing but grain
_ALIGNED = 0.95  # of a tile's structure tensor: less is no one straight edge
_LEAST_SLANT, _MOST_SLANT = 0.03, 0.8  # slope against the grid: straighter is not sampled finer, steeper seen turned
_STRAIGHT_PX = 0.25  # rms distance of the rows' edges from a line
_FLAT = 0.04  # of the step: how much the tile may vary beside it, grain apart
_LEAST_STEP = 0.08  # linear light, of the plate's brightest: fainter edges drown in grain
_OVER = 4  # samples of the edge spread a pixel
_REACH_PX = 11.0  # of the edge spread on each side
_FLAT_TOP = 0.6  # share of the window that leaves the line spread as it is
_WINDOW = 5.0  # blurs that the window reaches: beyond, there is but grain
_FEWEST = 5  # edges that a figure needs
_BEST = 0.2  # the plane in focus is what a build must match: this quantile of the edges' blurs
_ALIKE = 1.25  # times as soft are edges that count as in the same plane: less would pick out the grain's luck
_SMALLER = (1, 2, 4, 8)  # how much smaller the plate is looked at
_SURE_PX, _WIDEST_PX = 1.8, 3.0  # blurs that a tile tells: through grain, and at all
_BLOCK_PX, _JUMPS = 8, 1.2  # how much oftener light jumps at the edges of blocks
_KEPT_PX = 1.0  # blur of an edge that a compression of middling quality leaves as it is
_GAUSS_50, _GAUSS_10 = 0.18739, 0.34153  # cycles at which exp(-2 (pi f)^2) is a half and a tenth
_NYQUIST = 0.5  # cycles a pixel; finer detail a pixel grid shows as something else
_WIDTHS_PX = np.geomspace(0.2, 6.0, 69)  # of the edges that a spread is compared with, 5 % apart
_HALF = int(_REACH_PX * _OVER)


@dataclass(frozen=True)
class Sharpness:
    """What the sharpest edges of a plate tell; lengths in the plate's pixels."""

    mtf50: float  # cycles a pixel at which half of the contrast is left
    mtf10: float  # at which a tenth is: the limit of what is resolved
    edges: int  # measured
    compressed: bool = False  # in blocks, as JPEG does it

    @property
    def doubt(self) -> str:
        """Why the figures may be too soft, as a sentence; "" for nothing."""
        if not self.compressed or self.blur_px >= _KEPT_PX:
            return ""
        return f"its compression blurs what is sharper than {_KEPT_PX:g} px, so the photograph may be sharper than told"

    @property
    def blur_px(self) -> float:
        """Standard deviation of the Gaussian blur with this MTF50."""
        return _GAUSS_50 / self.mtf50

    @property
    def finest_px(self) -> float:
        """Width of the finest line that the plate resolves: half a wave at `mtf10`, at least a pixel."""
        return 0.5 / min(self.mtf10, _NYQUIST)


def sharpness(light: np.ndarray) -> Sharpness | None:
    """The sharpness of a picture (rows, columns) of linear light; None where it shows too few clean edges, or none that
    a tile of the smallest picture holds."""
    light = np.asarray(light, np.float64)
    told: list[tuple[int, Sharpness]] = []
    compressed = _is_compressed(light)
    for smaller in _SMALLER:
        picture = _shrunk(light, smaller)
        found = _sharpness(picture, smaller, compressed) if min(picture.shape) >= _TILE_PX else None
        if found is not None:
            told.append((smaller, found))
            if found.blur_px <= _SURE_PX * smaller:
                return found
    return next((found for smaller, found in told if found.blur_px <= _WIDEST_PX * smaller), None)


def _sharpness(light: np.ndarray, smaller: int, compressed: bool) -> Sharpness | None:
    """The sharpness in the pixels of a plate that is so many times as large."""
    least = _LEAST_STEP * float(np.percentile(light, 99.5))
    if least <= 0.0:
        return None
    tiles = _tiles(light, max(_STEP_PX // smaller, 1))
    found = [spread for tile, calm in tiles if (spread := _spread(tile, calm, least)) is not None]
    if len(found) < _FEWEST:
        return None
    spreads = np.array(found)
    widths = _widths(spreads)
    sharpest = widths <= _ALIKE * np.quantile(widths, _BEST)
    curve = _transfer(spreads[sharpest].mean(axis=0), float(np.median(widths[sharpest])))
    curve[:, 0] /= smaller
    curve[:, 1] /= _of_pixels(curve[:, 0], smaller)
    return Sharpness(frequency(curve, 0.5), frequency(curve, 0.1), len(found), compressed)


def _is_compressed(light: np.ndarray) -> bool:
    """Whether the light jumps between blocks of eight pixels more often than within them, up and across (Wang, Sheikh
    and Bovik 2002 measure how far it jumps); by small jumps, which the picture's own edges are not."""
    coded = np.sqrt(np.maximum(light, 0.0))
    return min(light.shape) > _BLOCK_PX and all(_most_jumps(across) > _JUMPS for across in (coded, coded.T))


def _most_jumps(coded: np.ndarray) -> float:
    """How many jumps there are at the best of eight places across, as a multiple of what is usual."""
    size = np.abs(np.diff(coded, axis=1))
    often = ((size > 1e-3) & (size < 0.05)).mean(axis=0)
    by_place = often[: len(often) // _BLOCK_PX * _BLOCK_PX].reshape(-1, _BLOCK_PX).mean(axis=0)
    return float(by_place.max() / max(float(np.median(by_place)), 1e-4))


def _shrunk(light: np.ndarray, smaller: int) -> np.ndarray:
    """The mean light of squares of pixels."""
    rows, columns = (side // smaller for side in light.shape)
    whole = light[: rows * smaller, : columns * smaller]
    return whole.reshape(rows, smaller, columns, smaller).mean(axis=(1, 3))


def _of_pixels(cycles: np.ndarray, smaller: int) -> np.ndarray:
    """What the mean of so many pixels leaves of the contrast at frequencies below the smaller picture's own."""
    return np.sinc(cycles * smaller) / np.sinc(cycles)


def edge_mtf(tile: np.ndarray, least_step: float) -> np.ndarray | None:
    """The MTF (K, 2) across the one straight edge of a tile: cycles a pixel, and contrast; None where there is none.

    `least_step` is the least difference of light between the two sides.
    """
    spread = _spread(tile, _calmed(tile), least_step)
    return None if spread is None else _transfer(spread, float(_widths(spread[None])[0]))


def _spread(tile: np.ndarray, calm: np.ndarray, least_step: float) -> np.ndarray | None:
    """The light (2 * _HALF + 1,) across the one straight edge of a tile, from 0 to 1; None where there is none.

    `calm` is the tile without its grain: that tells where the edge is.
    """
    if np.abs(np.diff(calm, axis=0)).sum() > np.abs(np.diff(calm, axis=1)).sum():
        tile, calm = tile.T, calm.T
    line = _line(calm)
    if line is None:
        return None
    start, slope = line
    rows, columns = tile.shape
    along = np.hypot(1.0, slope)
    away = (np.arange(columns) - start - slope * np.arange(rows)[:, None]) / along
    spread = _edge_spread(tile, away)
    if spread is None or not _is_clean(spread, tile, away, least_step):
        return None
    outer = len(spread) // 5
    low, high = spread[:outer].mean(), spread[-outer:].mean()
    return (spread - low) / (high - low)


def frequency(curve: np.ndarray, level: float) -> float:
    """Cycles a pixel at which a curve (K, 2) first falls to a level; its last frequency where it never does."""
    cycles, contrast = curve.T
    below = np.flatnonzero(contrast < level)
    if not len(below):
        return float(cycles[-1])
    k = below[0]
    return float(np.interp(level, (contrast[k], contrast[k - 1]), (cycles[k], cycles[k - 1])))


def _tiles(light: np.ndarray, step: int) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """The tiles that hold one strong edge each, strongest first, as they are and without their grain."""
    calm = _calmed(light)
    right, up = np.gradient(calm, axis=1), np.gradient(calm, axis=0)
    xx, xy, yy = (_sums(part, step) for part in (right * right, right * up, up * up))
    whole = xx + yy
    whole = whole - np.quantile(whole, _GRAIN)  # grain goes all ways alike
    aligned = np.hypot(xx - yy, 2.0 * xy) > _ALIGNED * whole
    strength = np.where(aligned, whole, 0.0)
    for number in np.argsort(-strength, axis=None, kind="stable")[:_TILES]:
        row, column = np.unravel_index(number, strength.shape)
        if strength[row, column] > 0.0:
            rows = slice(row * step, row * step + _TILE_PX)
            columns = slice(column * step, column * step + _TILE_PX)
            yield light[rows, columns], calm[rows, columns]


def _calmed(light: np.ndarray) -> np.ndarray:
    """Weights 1 2 1 both ways, `_CALM` times over, so that grain hides no edge from the search."""
    for _ in range(_CALM):
        wide = np.pad(light, 1, mode="edge")
        across = 0.25 * wide[:, :-2] + 0.5 * wide[:, 1:-1] + 0.25 * wide[:, 2:]
        light = 0.25 * across[:-2] + 0.5 * across[1:-1] + 0.25 * across[2:]
    return light


def _sums(values: np.ndarray, step: int) -> np.ndarray:
    """Sums over all tiles, (tiles up, tiles across)."""
    table = np.pad(values.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    low = [np.arange(0, side - _TILE_PX + 1, step) for side in values.shape]
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
        slope, start = np.polyfit(row[_CALM:-_CALM], centre[_CALM:-_CALM], 1)  # calming bends the ends of a lone tile
    rms = float(np.sqrt(np.mean((centre - start - slope * row) ** 2)))
    if rms > _STRAIGHT_PX or not _LEAST_SLANT <= abs(slope) <= _MOST_SLANT:
        return None
    return float(start), float(slope)


def _edge_spread(tile: np.ndarray, away: np.ndarray) -> np.ndarray | None:
    """Mean light (2 * _HALF + 1,) over distance from the edge, `_OVER` samples a pixel, its ends held where the tile
    ends sooner; None where rows leave gaps."""
    bin_of = np.floor(away * _OVER + 0.5).astype(int) + _HALF
    inside = (bin_of >= 0) & (bin_of <= 2 * _HALF)
    count = np.bincount(bin_of[inside], minlength=2 * _HALF + 1)
    there = np.flatnonzero(count)
    if len(there) < there[-1] - there[0] + 1 or min(_HALF - there[0], there[-1] - _HALF) < 4 * _OVER:
        return None
    light, place = (
        np.bincount(bin_of[inside], each[inside], 2 * _HALF + 1)[there] / count[there] for each in (tile, away)
    )
    return np.interp(np.arange(-_HALF, _HALF + 1) / _OVER, place, light)  # a bin's rows may lie all to one side in it


def _is_clean(spread: np.ndarray, tile: np.ndarray, away: np.ndarray, least_step: float) -> bool:
    """Whether both sides are flat, but for grain, and the step is strong enough."""
    outer = len(spread) // 5
    step = abs(float(spread[-outer:].mean() - spread[:outer].mean()))
    if step < least_step:
        return False
    rest = tile - np.interp(away, np.arange(-_HALF, _HALF + 1) / _OVER, spread)
    rough = _shrunk(rest, 8)
    along = spread[np.r_[:outer, -outer:0]]
    sides = along[:outer], along[outer:]
    return all(float(each.std()) < _FLAT * step for each in (rough, *map(_ran, sides)))


def _ran(values: np.ndarray) -> np.ndarray:
    """Means over a pixel of a spread."""
    return np.convolve(values, np.full(_OVER, 1.0 / _OVER), "valid")


def _widths(spreads: np.ndarray) -> np.ndarray:
    """The blur (n,) in pixels of the Gaussian edge that each spread (n, 2 * _HALF + 1) is nearest to, by least squares
    over width, levels and, to the first order, place."""
    place = np.arange(-_HALF, _HALF + 1) / _OVER
    left = np.empty((len(_WIDTHS_PX), len(spreads)))
    for number, width in enumerate(_WIDTHS_PX.tolist()):
        edge = np.array([0.5 * erf(each / (sqrt(2.0) * width)) for each in place.tolist()])
        basis, _ = np.linalg.qr(np.stack((np.ones_like(place), edge, np.exp(-0.5 * (place / width) ** 2)), axis=1))
        left[number] = (spreads**2).sum(axis=1) - ((spreads @ basis) ** 2).sum(axis=1)
    best = np.clip(left.argmin(axis=0), 1, len(left) - 2)
    low, middle, high = (left[best + step, np.arange(len(spreads))] for step in (-1, 0, 1))
    bend = np.maximum(low - 2.0 * middle + high, 1e-300)
    return _WIDTHS_PX[best] * (_WIDTHS_PX[1] / _WIDTHS_PX[0]) ** np.clip(0.5 * (low - high) / bend, -1.0, 1.0)


def _transfer(spread: np.ndarray, width: float) -> np.ndarray:
    """The MTF of an edge spread: its derivative, under a window about its middle, transformed and set right for both
    the width of the bins and the derivative's reach (ISO 12233)."""
    line = np.diff(spread)
    place = np.arange(len(line)) - 0.5 * (len(line) - 1)
    half = min(_HALF, (_WINDOW * width + 2.0) / _FLAT_TOP * _OVER)
    far = np.clip((np.abs(place) / half - _FLAT_TOP) / (1.0 - _FLAT_TOP), 0.0, 1.0)
    line = line * (0.5 + 0.5 * np.cos(np.pi * far))  # a Hamming window, as is usual, would narrow a soft edge by 17 %
    contrast = np.abs(np.fft.rfft(line, 16 * len(line)))
    cycles = np.arange(len(contrast)) / (16 * len(line)) * _OVER
    kept = cycles <= 2.0 * _NYQUIST
    cycles, contrast = cycles[kept], contrast[kept] / contrast[0]
    return np.stack((cycles, contrast / np.sinc(cycles / _OVER) ** 2), axis=1)
