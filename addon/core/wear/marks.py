"""What the marks of a picture look like: how wide they are, which way they run, what made them.

A picture comes as strengths of marks (rows, columns), 0 clean to 1 strongest; rows run upwards, as Blender stores them.
"""

from dataclasses import dataclass

import numpy as np

from .. import units

SOFT, LINES, SPECKS, OTHER = "soft", "lines", "specks", "other"  # what marks look like

_FROM, _TO = 0.3, 0.7  # of the strongest: between these a mark's flank is looked at, grain and haze lie below
_BLOCK = 8  # of means a side
_MEAN_PX = 4  # pixels a side of each: a hairline still shows in it, grain and the stairs of slanted lines do not
# Limits between the kinds, set by bench/looks.py; shares of the picture, its width or its power.
_SOFT_BELOW = 12.0  # waves across it: a fingertip is a fifth of a smudge texture wide, a bold scratch a fiftieth
_SOFT_SHARE = 0.6
_FILM = (0.08, 0.66)  # greasy at all, and neither clean nor thick: beyond it is a photograph or a pattern
_GROUND, _TOUCHED = 0.1, 0.895  # strength that shows, and how much of a surface hands get to
_ROUGH, _RIDGED = 0.06, 0.12  # change from pixel to pixel that a film has, but in the few ridges of a print
_LINES_ABOVE = 0.45  # mean alignment within blocks; specks and grain, which have flanks all around, stay below
_LINES_COVER, _LINES_WIDE = 0.21, 0.022
_SPECKS_COVER, _SPECKS_WIDE = 0.11, 0.008
_LEAST_PX = 4.0  # as wide as a mark may be in any picture


@dataclass(frozen=True)
class Run:
    """Which way marks run."""

    direction_deg: float  # 0 to 180, anticlockwise from the picture's lower edge
    alignment: float  # 0 all ways alike, 1 all parallel


def width_px(marks: np.ndarray) -> float:
    """Mean width of the strong marks in pixels: twice their area over the length of their outlines; 0 without any.

    Exact to 2 % from 4 pixels on; below 3 pixels, where a line is hardly drawn, to about a pixel.

    The outline comes from the coarea formula (Federer 1959): the sum of the gradient's length is the length of the
    level lines, here those from 0.3 to 0.7 of the strongest mark.
    """
    strong = _smooth(np.clip((marks - _FROM) / (_TO - _FROM), 0.0, 1.0))
    outline = float(np.hypot(*_gradient(strong)).sum())
    if outline <= 0.0:
        return 0.0
    wide = 2.0 * float(strong.sum()) / outline
    # Smoothing by 1 2 1 lowers a line w < 3 pixels wide to (1 + w) / 4, which makes it look wider by as much.
    return wide / (4.0 - wide) if wide < 3.0 else wide


def run(marks: np.ndarray) -> Run:
    """The direction along which the picture changes least: the weak axis of its structure tensor.

    Structure tensor: Bigun and Granlund 1987.
    """
    xx, xy, yy = (float(part.sum()) for part in _tensor(_smooth(_smooth(marks))))
    if xx + yy <= 0.0:
        return Run(0.0, 0.0)
    across = 0.5 * units.degrees(np.arctan2(2.0 * xy, xx - yy))
    return Run(float((across + 90.0) % 180.0), float(np.hypot(xx - yy, 2.0 * xy) / (xx + yy)))


def softness(marks: np.ndarray) -> float:
    """Share of the power spectrum, the mean left out, that lies in waves fewer than 12 across the picture."""
    power = np.abs(np.fft.rfft2(marks - marks.mean())) ** 2
    rows, columns = marks.shape
    power[:, 1 : (columns + 1) // 2] *= 2.0  # the half of the spectrum that rfft leaves out mirrors these
    waves = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)) * columns
    whole = float(power.sum())
    return float(power[waves < _SOFT_BELOW].sum()) / whole if whole > 0.0 else 0.0


def lineness(marks: np.ndarray) -> float:
    """How straight marks are up close: mean alignment within blocks of 32 pixels, each weighing as much as it changes.

    1 where all are lines, whichever way each runs; less where they are specks or grain.
    """
    means = _blocks(marks, _MEAN_PX)
    xx, xy, yy = (_blocks(part, _BLOCK) for part in _tensor(means))
    whole = float((xx + yy).sum())
    return float(np.hypot(xx - yy, 2.0 * xy).sum()) / whole if whole > 0.0 else 0.0


def look(marks: np.ndarray) -> str:
    """SOFT, LINES or sparse SPECKS; the rest, and none, is OTHER: photographs, weaves, stone."""
    if marks.max() <= 0.0:
        return OTHER
    if softness(marks) > _SOFT_SHARE:
        return SOFT if _is_film(marks) else OTHER
    found, cover, wide = SPECKS, _SPECKS_COVER, _SPECKS_WIDE
    if lineness(marks) > _LINES_ABOVE:
        found, cover, wide = LINES, _LINES_COVER, _LINES_WIDE
    is_narrow = width_px(marks) <= max(wide * marks.shape[1], _LEAST_PX)
    return found if is_narrow and _share(marks > _FROM) <= cover else OTHER


def _is_film(marks: np.ndarray) -> bool:
    """Whether soft marks lie as grease does: on some of the surface, thick on little of it, and smoothly."""
    least, most = _FILM
    between = _share((marks > 0.25) & (marks < 0.75))
    if _share(marks > _FROM) <= least or between > most or _share(marks > _GROUND) > _TOUCHED:
        return False
    rough = float(np.sqrt(sum(float((part * part).mean()) for part in _gradient(marks))))
    return rough <= _ROUGH or _share(marks > 0.5) <= _RIDGED


def _share(of: np.ndarray) -> float:
    return float(of.mean())


def _smooth(grey: np.ndarray) -> np.ndarray:
    """Weights 1 2 1 both ways: outlines at any angle then measure the same. The outermost pixels go."""
    across = 0.25 * grey[:, :-2] + 0.5 * grey[:, 1:-1] + 0.25 * grey[:, 2:]
    return 0.25 * across[:-2] + 0.5 * across[1:-1] + 0.25 * across[2:]


def _gradient(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Change to the right and upwards at the corners between four pixels; the picture's edges are not joined."""
    right, up = np.diff(grey, axis=1), np.diff(grey, axis=0)
    return 0.5 * (right[1:] + right[:-1]), 0.5 * (up[:, 1:] + up[:, :-1])


def _tensor(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    right, up = _gradient(grey)
    return right * right, right * up, up * up


def _blocks(values: np.ndarray, side: int) -> np.ndarray:
    """Sums over whole blocks; what is left over at the far edges is left out."""
    rows, columns = (each // side for each in values.shape)
    cut = values[: rows * side, : columns * side]
    return cut.reshape(rows, side, columns, side).sum(axis=(1, 3))
