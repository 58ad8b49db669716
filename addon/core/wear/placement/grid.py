"""Which places of a build are full: a grid of bits, 64 to a word, finer than half a plate."""

from dataclasses import dataclass

import numpy as np

from ...build.bricks import Pieces
from ...counts import within
from ...near import emptiness
from ...sizes import TRADE

_CELL_MM = 0.5 * TRADE.plate_height
_MOST_CELLS = 9e8  # a coarser grid beyond
_WORD = 64
_CLOSED_MM = 0.2  # of each side: nothing falls or reaches into a gap as narrow as two of these
EMPTY_MM = 160.0  # what is wider and empty is counted as so wide: things far apart hardly shade each other,
EMPTY_BY_A_WINDOW_MM = 1280.0  # but for light from low down, that a wall at 160 mm keeps off
_ONES, _ONE, _TO_END, _END = np.array([2**_WORD - 1, 1, _WORD - 1, 1 << (_WORD - 1)], dtype=np.uint64)
_ROWS = 1 << 18  # gone over together


@dataclass(frozen=True)
class Ruler:
    """Where cells lie in the build, along each axis; wide empty stretches are left out."""

    cell_mm: float
    cells: np.ndarray  # (3,) how many
    starts: tuple[np.ndarray, ...]  # along each axis: where stretches that are not left out begin, ascending,
    shifts: tuple[np.ndarray, ...]  # and how much is left out before each, with the grid's origin

    @classmethod
    def around(cls, low: np.ndarray, high: np.ndarray, rim_mm: float, empty_mm: float = EMPTY_MM) -> "Ruler":
        """Of boxes (P, 3), and as much around all of them; empty stretches count as so wide at the most."""
        starts, shifts, sides = [], [], []
        for axis in range(3):
            order, empty = emptiness(low[:, axis], high[:, axis], empty_mm)
            first, gap = low[order, axis], np.flatnonzero(empty)
            starts.append(np.r_[-np.inf, first[gap] - 0.5 * empty_mm])
            shifts.append(first[0] - rim_mm + np.r_[0.0, np.cumsum(empty[gap])])
            sides.append(high[:, axis].max() - first[0] - empty.sum() + 2.0 * rim_mm)
        size = np.array(sides)
        cell = max(_CELL_MM, float((size.prod() / _MOST_CELLS) ** (1.0 / 3.0)))
        return cls(cell, np.ceil(size / cell).astype(np.int64) + 1, tuple(starts), tuple(shifts))

    def at(self, places: np.ndarray) -> np.ndarray:
        """Places (..., 3) in cells: the middle of the first cell is at a half."""
        found = np.empty(places.shape)
        for axis, (starts, shifts) in enumerate(zip(self.starts, self.shifts, strict=True)):
            own = places[..., axis]
            shift = shifts[0] if len(shifts) == 1 else shifts[np.searchsorted(starts, own, side="right") - 1]
            found[..., axis] = (own - shift) / self.cell_mm
        return found


def full(pieces: Pieces, ruler: Ruler, order: tuple[int, int, int]) -> np.ndarray:
    """Bits of the cells (K, J, I / 64) whose middles lie in a piece or in a narrow gap beside it; the axes of the
    build that run along the three are `order`, and where a cell is not in the build its bit is 0."""
    layers, rows, run = (int(ruler.cells[axis]) for axis in order)
    words = -(-run // _WORD)
    grid = np.zeros(layers * rows * words, dtype=np.uint64)
    half = pieces.reach + _CLOSED_MM
    low, high = (ruler.at(each) for each in (pieces.centre - half, pieces.centre + half))
    first = np.maximum(np.ceil(low - 0.5), 0).astype(np.int64)
    last = np.minimum(np.floor(high - 0.5).astype(np.int64), ruler.cells - 1)
    count = np.maximum(last - first + 1, 0)
    lines = count[:, order[0]] * count[:, order[1]]
    ends = np.cumsum(lines)
    middle = ruler.at(pieces.centre)
    begin = 0
    while begin < len(pieces):
        before = ends[begin - 1] if begin else 0
        end = max(int(np.searchsorted(ends, before + _ROWS)), begin + 1)
        piece = np.repeat(np.arange(begin, end), lines[begin:end])
        layer, row = np.divmod(within(lines[begin:end]), count[piece, order[1]])
        layer, row = layer + first[piece, order[0]], row + first[piece, order[1]]
        start, stop = first[piece, order[2]], last[piece, order[2]]
        start, stop = _cut(pieces, ruler.cell_mm, middle, piece, (layer, row), order, start, stop)
        _fill(grid, (layer * rows + row) * words, start, stop)
        begin = end
    return grid.reshape(layers, rows, words)


def _cut(pieces, cell_mm, middle, piece, line, order, start, stop) -> tuple[np.ndarray, np.ndarray]:
    """From where to where the cells of lines lie in pieces that do not fill their upright boxes."""
    odd = np.flatnonzero(~pieces.aligned[piece] | (pieces.hull[piece] > 0))
    start, stop = start.copy(), stop.copy()
    for kind in np.unique(pieces.hull[piece[odd]]):
        own = odd[pieces.hull[piece[odd]] == kind]
        solid = piece[own]
        distinct, which = np.unique(solid, return_inverse=True)
        planes, ends = _planes(pieces, distinct)
        offset = np.stack([at[own] + 0.5 - middle[solid, axis] for at, axis in zip(line, order[:2], strict=True)])
        low, high = start[own].astype(float), stop[own].astype(float)
        for f in range(planes.shape[1]):
            normal, room = planes[which, f], (ends[which, f] + _CLOSED_MM) / cell_mm
            for at, axis in zip(offset, order[:2], strict=True):
                room = room - normal[:, axis] * at
            slope = normal[:, order[2]]
            with np.errstate(divide="ignore", invalid="ignore"):
                edge = room / slope + middle[solid, order[2]] - 0.5
            high = np.where(slope > 1e-9, np.minimum(high, edge), high)
            low = np.where(slope < -1e-9, np.maximum(low, edge), low)
            high = np.where((np.abs(slope) <= 1e-9) & (room < 0.0), -1.0, high)
        start[own], stop[own] = np.ceil(low), np.floor(high)
    return start, stop


def _planes(pieces: Pieces, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (K, F, 3) of pieces of one hull, and how far (K, F) from their centres these faces lie, in mm."""
    corners, normals, _ = pieces.solids(chosen)
    if not pieces.hull[chosen[0]]:
        normals = np.concatenate([normals, -normals], axis=1)  # a box tells one of two
    normals = normals / np.sqrt((normals * normals).sum(axis=-1, keepdims=True))
    away = corners - pieces.centre[chosen, None]
    return normals, (normals[:, :, None] * away[:, None]).sum(axis=-1).max(axis=-1)


def _fill(grid: np.ndarray, base: np.ndarray, start: np.ndarray, stop: np.ndarray) -> None:
    """Sets the bits from `start` to `stop`, the last included, of lines whose first words lie at `base`."""
    some = stop >= start
    base, start, stop = base[some], start[some], stop[some]
    word, final = start // _WORD, stop // _WORD
    for step in range(int((final - word).max(initial=-1)) + 1):
        met = word + step <= final
        at, here = base[met] + word[met] + step, (word[met] + step) * _WORD
        low = np.maximum(start[met] - here, 0).astype(np.uint64)
        high = np.minimum(stop[met] - here, _WORD - 1).astype(np.uint64)
        np.bitwise_or.at(grid, at, (_ONES << low) & (_ONES >> (np.uint64(_WORD - 1) - high)))


def shifted(layer: np.ndarray, rows: int, bits: int, out: np.ndarray) -> None:
    """Moves a layer (J, W) by so many rows and by -1, 0 or 1 bits into `out`; what comes in from beyond is 1."""
    source, target = layer, out
    if rows > 0:
        out[:rows] = _ONES
        source, target = layer[:-rows], out[rows:]
    elif rows < 0:
        out[rows:] = _ONES
        source, target = layer[-rows:], out[:rows]
    if bits == 0:
        target[...] = source
    elif bits > 0:
        np.left_shift(source, _ONE, target)
        if layer.shape[1] > 1:  # in narrow grids most of the time goes into calls
            target[:, 1:] |= source[:, :-1] >> _TO_END
        target[:, 0] |= _ONE
    else:
        np.right_shift(source, _ONE, target)
        if layer.shape[1] > 1:
            target[:, :-1] |= source[:, 1:] << _TO_END
        target[:, -1] |= _END


def spots(shape: tuple[int, ...], at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The word (P,) in a grid of a shape, and the bit in it, of places (3, P) in cells, by layer, row and run; those
    beyond the grid are those of its rim."""
    layers, rows, words = shape
    most = layers - 1, rows - 1, words * _WORD - 1
    layer, row, run = (np.clip(np.floor(each), 0, last).astype(np.int64) for each, last in zip(at, most, strict=True))
    return (layer * rows + row) * words + (run >> 6), (run & 63).astype(np.uint64)


def is_set(grid: np.ndarray, word: np.ndarray, bit: np.ndarray) -> np.ndarray:
    """Whether bits (P,) of words of a grid are set."""
    return (grid.reshape(-1).take(word) >> bit) & np.uint64(1) > 0
