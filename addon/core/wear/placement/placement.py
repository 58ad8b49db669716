"""How far each side of each brick is reached by hands, and how open it is to the sky."""

from dataclasses import dataclass

import numpy as np

from ... import rigid
from ...build.bricks import Bricks
from ...counts import within
from ...remembered import remembered
from . import window
from .grid import EMPTY_BY_A_WINDOW_MM, EMPTY_MM, Ruler
from .samples import SIDES, samples
from .sky import Places, directions, openness
from .touch import touched

FINGERTIP_MM = 15.0  # common practice, no published source
_RIM_MM = 8.0
_CLOSE_MM = 0.4  # what is nearer covers a place
_DIGITS = 4


@dataclass(frozen=True)
class Placement:
    """For each brick and each side of its part's own axes, -x, +x, -y, +y, -z, +z.

    What other bricks lie on does not count: a plate that houses stand on is as open between them as one without.
    """

    reach: np.ndarray  # (N, 6) share that a fingertip touches; 0 where other bricks cover all of it
    sky: np.ndarray  # (N, 6) what it gets of an even sky, 1 what open ground gets; 0 where all is covered
    open_sky: np.ndarray  # (N, 6) and what it would get with nothing in the way
    height: np.ndarray  # (N, 6) how high it stands, as a share of the build's height
    light: np.ndarray | None = None  # (N, 6) what it gets of a window's light, 1 the most; None without a window

    def __len__(self) -> int:
        return len(self.reach)

    @property
    def out_of_reach(self) -> np.ndarray:
        """(N, 6) share of each side that no finger gets to."""
        return 1.0 - self.reach

    @property
    def sheltered(self) -> np.ndarray:
        """(N, 6) share of its own sky that each side does not see; 0 where it has none."""
        return 1.0 - np.divide(self.sky, self.open_sky, out=np.ones_like(self.sky), where=self.open_sky > 1e-6)


def placed(bricks: Bricks, window_deg: float | None = None, fingertip_mm: float = FINGERTIP_MM) -> Placement:
    """Works it out from where the bricks stand; the ground lies under the lowest of them. window_deg: from the build's
    own x axis anticlockwise, seen from above; None where light came from everywhere."""
    told = bricks.told + np.array([np.nan if window_deg is None else window_deg, fingertip_mm]).tobytes()
    return remembered("placement", told, lambda: _placed(bricks, window_deg, fingertip_mm))


def _placed(bricks: Bricks, window_deg: float | None, fingertip_mm: float) -> Placement:
    is_lit = window_deg is not None
    if not len(bricks):
        none = np.ones((0, SIDES))
        return Placement(none, none, none, none, none if is_lit else None)
    side, place, normal = _on_bricks(bricks)
    pieces = bricks.pieces()
    ruler = Ruler.around(pieces.low, pieces.high, _RIM_MM, EMPTY_BY_A_WINDOW_MM if is_lit else EMPTY_MM)
    bare = touched(place, normal, pieces, 2.0 * _CLOSE_MM)  # under another brick nothing else need be asked
    cell, upward = ruler.at(place[bare]), normal[bare]
    seen, lit, reached = (np.zeros(len(place)) for _ in range(3))
    weights = window.weights(directions(), window_deg) if window_deg is not None else None
    seen[bare], lit[bare] = openness(Places(cell, upward), pieces, ruler, weights)
    reached[bare] = touched(place[bare], upward, pieces, fingertip_mm)
    open_sky = 0.5 * (1.0 + normal[:, 2])
    counts = bare | (np.bincount(side, bare, len(bricks) * SIDES) == 0.0)[side]
    told = (
        reached,
        seen * open_sky,
        open_sky,
        _height(place),
        *([window.light(lit, seen * open_sky)] if is_lit else []),
    )
    return Placement(*(_mean(each[counts], side[counts], len(bricks)) for each in told))


def _height(place: np.ndarray) -> np.ndarray:
    """How high points (P, 3) stand, from 0 at the lowest to 1 at the highest."""
    low, high = place[:, 2].min(), place[:, 2].max()
    return (place[:, 2] - low) / max(high - low, 1e-9)


def _on_bricks(bricks: Bricks) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points on all bricks: whose side each lies on, numbered brick by brick, its place and its normal (P, 3)."""
    own = [samples(part) for part in bricks.parts]
    number = np.array([len(each.side) for each in own])
    brick = np.repeat(np.arange(len(bricks)), number[bricks.part])
    start = (np.cumsum(number) - number)[bricks.part]
    at = start[brick] + within(number[bricks.part])
    side, place, normal = (np.concatenate([getattr(each, name) for each in own])[at] for name in vars(own[0]))
    turn = bricks.turn[brick]
    return brick * SIDES + side, bricks.origin[brick] + rigid.turned(turn, place), rigid.turned(turn, normal)


def _mean(values: np.ndarray, side: np.ndarray, bricks: int) -> np.ndarray:
    """The means (N, 6) over the points of each side; 1 for a side without any."""
    number = np.bincount(side, minlength=bricks * SIDES)
    total = np.bincount(side, values, bricks * SIDES)
    mean = np.divide(total, number, out=np.ones(len(number)), where=number > 0)
    return np.round(mean, _DIGITS).reshape(bricks, SIDES)
