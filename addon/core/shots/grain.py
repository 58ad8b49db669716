"""The grain of a photographed plate, from its evenest places: what a render gets before it lies beside it.

In a small block without detail all that is left beside a plane is grain. Noise that a Gaussian of standard deviation s
has made soft is alike by exp(-d^2 / (4 s^2)) at a distance d, the Gaussian folded with itself; with q that of
neighbours, pixels two apart differ 1 + q + q^2 + q^3 times as much in the square as neighbours do. Differences are all
that is looked at: what a block takes off clumps as large as itself changes none.
"""

from dataclasses import dataclass

import numpy as np

from ..wear import cielab

MID_GREY = 0.18  # linear light: where grain is told, as near as the plate has even places
_BLOCK_PX = 16
_EVEN, _NEAR = 0.2, 0.5  # shares of the blocks: those with the least change, and of these those nearest to mid-grey
_FEWEST = 12  # blocks that a figure needs
_CLIPPED = 0.01  # share of a block that may be as dark or as bright as the plate gets
_ALIKE = 3.0  # times as much varies a block of the upper quarter as one of the lower: more is detail and no grain
_NONE = 1e-3  # difference of neighbours that is no grain but the steps of 8 bits
_LEAST_ALIKE, _MOST_ALIKE = 0.05, 0.99  # neighbours: less so are grains smaller than a pixel, more so are detail


@dataclass(frozen=True)
class Grain:
    """How strong and how large; of red, green and blue each."""

    deviation: tuple[float, ...]  # standard deviation, linear light
    light: tuple[float, ...]  # at which that is, linear
    size_px: float  # standard deviation of the Gaussian that makes noise of single pixels as soft; 0 for none


def grain(colours: np.ndarray) -> Grain | None:
    """The grain of a picture (rows, columns, 3) of linear light; None where too little of it is even."""
    colours = np.asarray(colours, np.float64)
    light = cielab.luminance(colours)
    if min(light.shape) < _BLOCK_PX:
        return None
    even = _evenest(light)
    if len(even) < _FEWEST:
        return None
    level = _blocks(light)[even].mean(axis=(1, 2))
    near = even[np.argsort(np.abs(level - MID_GREY), kind="stable")[: max(_FEWEST, int(_NEAR * len(even)))]]
    low, _, high = _vary(_differences(_beside_a_plane(_blocks(light)[near]), 1))
    if high > max(_ALIKE * low, _NONE**2):
        return None
    channels = [_blocks(channel)[near] for channel in np.moveaxis(colours, -1, 0)]
    rest = [_beside_a_plane(blocks) for blocks in channels]
    next_, second = (np.array([_differences(each, apart) for each in rest]) for apart in (1, 2))
    alike = _alike(float(second.sum() / next_.sum())) if high > _NONE**2 else 0.0
    return Grain(
        tuple(float(np.sqrt(0.5 * _vary(each)[1] / (1.0 - alike))) for each in next_),
        tuple(float(np.median(blocks.mean(axis=(1, 2)))) for blocks in channels),
        0.0 if alike < _LEAST_ALIKE else float(np.sqrt(-0.25 / np.log(alike))),
    )


def _vary(differences: np.ndarray) -> np.ndarray:
    """The lower quarter, the middle and the upper quarter of the blocks."""
    return np.quantile(differences, (0.25, 0.5, 0.75))


def _blocks(light: np.ndarray) -> np.ndarray:
    """The picture's blocks (n, _BLOCK_PX, _BLOCK_PX), what is left at its ends left out."""
    rows, columns = (side // _BLOCK_PX for side in light.shape)
    whole = light[: rows * _BLOCK_PX, : columns * _BLOCK_PX].reshape(rows, _BLOCK_PX, columns, _BLOCK_PX)
    return whole.swapaxes(1, 2).reshape(-1, _BLOCK_PX, _BLOCK_PX)


def _evenest(light: np.ndarray) -> np.ndarray:
    """The numbers of the blocks that are most like those beside them, with nothing clipped. What lies within a block
    does not choose it: that would pick those with the least grain."""
    coded = np.sqrt(np.maximum(light, 0.0))  # so that a dark block has no less detail than a bright one
    rows, columns = (side // _BLOCK_PX for side in light.shape)
    mean = np.pad(_blocks(coded).mean(axis=(1, 2)).reshape(rows, columns), 1, mode="edge")
    beside = mean[:-2, 1:-1], mean[2:, 1:-1], mean[1:-1, :-2], mean[1:-1, 2:]
    detail = np.max([np.abs(mean[1:-1, 1:-1] - each) for each in beside], axis=0).reshape(-1)
    ends = _blocks((light <= light.min()) | (light >= light.max())).mean(axis=(1, 2))
    inside = np.flatnonzero(ends <= _CLIPPED)
    return inside[np.argsort(detail[inside], kind="stable")[: int(_EVEN * len(inside))]]


def _beside_a_plane(blocks: np.ndarray) -> np.ndarray:
    """What is left of each block beside the plane that is nearest to it."""
    across = np.linspace(-1.0, 1.0, _BLOCK_PX)
    planes = np.stack([np.ones(_BLOCK_PX**2), np.repeat(across, _BLOCK_PX), np.tile(across, _BLOCK_PX)], axis=1)
    basis, _ = np.linalg.qr(planes)
    flat = blocks.reshape(len(blocks), -1)
    return (flat - flat @ basis @ basis.T).reshape(blocks.shape)


def _differences(rest: np.ndarray, apart: int) -> np.ndarray:
    """Mean square (n,) of how pixels so far apart differ, across and up."""
    ways = rest[:, :, apart:] - rest[:, :, :-apart], rest[:, apart:] - rest[:, :-apart]
    return np.mean([(way**2).mean(axis=(1, 2)) for way in ways], axis=0)


def _alike(ratio: float) -> float:
    """How alike neighbours are where pixels two apart differ so many times as much: the q of 1 + q + q^2 + q^3."""
    known = np.linspace(0.0, _MOST_ALIKE, 1000)
    return float(np.interp(ratio, 1.0 + known + known**2 + known**3, known))
