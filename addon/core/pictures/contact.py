"""A contact sheet as pixels: cells of pictures side by side with words below, in rows of a page.

Pixels are as displayed, 0 to 1, the uppermost row first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np

PAPER, INK = 0.93, 0.12
GAP = 12  # px, between cells and around them


@dataclass(frozen=True)
class Cell:
    pictures: tuple[np.ndarray, ...]  # (rows, columns, 3), side by side
    words: np.ndarray  # (rows, columns) how much of each pixel ink covers

    def drawn(self) -> np.ndarray:
        """Its pixels (rows, columns, 3): all pictures, a line of paper between them, and the words below."""
        tall = max(len(picture) for picture in self.pictures)
        parts = [_filled(picture, tall, picture.shape[1]) for picture in self.pictures]
        line = np.full((tall, GAP // 3, 3), PAPER)
        row = np.concatenate([each for part in parts for each in (part, line)][:-1], axis=1)
        ink = PAPER + (INK - PAPER) * self.words[..., None].repeat(3, axis=-1)
        wide = max(row.shape[1], ink.shape[1])
        return np.concatenate([_filled(row, tall, wide), _filled(ink, len(ink), wide)])


def page(cells: Sequence[Cell]) -> np.ndarray:
    """The page (rows, columns, 3) of some cells, about as many across as down, each row as tall as its tallest."""
    drawn = [cell.drawn() for cell in cells]
    wide = max(each.shape[1] for each in drawn)
    across = max(1, ceil(sqrt(len(drawn) * max(len(each) for each in drawn) / wide)))
    rows = [drawn[start : start + across] for start in range(0, len(drawn), across)]
    end = np.full((GAP, GAP + across * (wide + GAP), 3), PAPER)
    return np.concatenate([*(_row(row, wide, across) for row in rows), end])


def _row(cells: Sequence[np.ndarray], wide: int, across: int) -> np.ndarray:
    tall = GAP + max(map(len, cells))
    row = np.full((tall, GAP + across * (wide + GAP), 3), PAPER)
    for number, cell in enumerate(cells):
        left = GAP + number * (wide + GAP)
        row[GAP : GAP + len(cell), left : left + cell.shape[1]] = cell
    return row


def _filled(picture: np.ndarray, rows: int, columns: int) -> np.ndarray:
    """A picture in the upper left of so much paper."""
    paper = np.full((rows, columns, 3), PAPER)
    paper[: len(picture), : picture.shape[1]] = picture
    return paper


def within(picture: np.ndarray, rows: int, columns: int) -> np.ndarray:
    """A picture (…, …, 3) as large as fits into so many rows and columns, each pixel the mean of what it covers."""
    share = min(rows / picture.shape[0], columns / picture.shape[1])
    for axis in (0, 1):
        picture = _means(picture, max(1, round(picture.shape[axis] * share)), axis)
    return picture


def _means(values: np.ndarray, count: int, axis: int) -> np.ndarray:
    """So many equal parts of an axis, each the mean of what it covers: a difference of the running sum."""
    values = np.moveaxis(values, axis, 0)
    sums = np.concatenate([np.zeros_like(values[:1]), np.cumsum(values, axis=0)])
    ends = np.linspace(0.0, len(values), count + 1)
    whole = np.minimum(ends.astype(int), len(values) - 1)
    part = (ends - whole).reshape(-1, *[1] * (values.ndim - 1))
    at = sums[whole] + part * values[whole]
    return np.moveaxis((at[1:] - at[:-1]) * (count / len(values)), 0, axis)
