"""How much looseness a build can take: beyond it play and seams are used up, and its bricks move hardly farther."""

from dataclasses import replace
from itertools import product

import numpy as np

from .. import rigid
from ..build.bricks import Bricks
from ..presets import preset
from ..remembered import digest, recalled, remembered
from .clearance import met
from .motions import Motions
from .problem import Problem
from .repair import Repair
from .targets import targets

_ALL = 0.95  # of what the dial's end gives: as much as all that a build takes
_TENTHS = 20  # of the dial
_SAMPLE = 800  # bricks that speak for a build: those around its middle, from the ground to the top
_SEED = 0
_CORNERS = np.array(list(product((-1.0, 1.0), repeat=3)))


def takes(bricks: Bricks, fit: preset.Fit, held: np.ndarray) -> float:
    """The least looseness, in tenths, at which half of the bricks go nearly as far as with the dial at its end; 0
    where they go nowhere.

    `held` (N,) are bricks that cannot be moved. The same for every seed: a build and its limits are what counts.
    """
    rows = _speaking(bricks)
    some, held = replace(bricks.only(rows), roll=None), held[rows]
    found: np.ndarray = remembered("takes", _told(bricks, rows, fit, held), lambda: np.array([_takes(some, fit, held)]))
    return float(found[0])


def known(bricks: Bricks, fit: preset.Fit, held: np.ndarray) -> float:
    """As `takes`, without any work: 0 where it was not among the last that were asked for."""
    rows = _speaking(bricks)
    found = recalled("takes", _told(bricks, rows, fit, held[rows]))
    return 0.0 if found is None else float(found[0])


def _speaking(bricks: Bricks) -> np.ndarray:
    """Those around the middle, in the order of the table."""

    def nearest() -> np.ndarray:
        away = np.abs(bricks.centre[:, :2] - np.median(bricks.centre[:, :2], axis=0)).max(axis=1)
        return np.sort(np.argsort(away, kind="stable")[:_SAMPLE])

    return remembered("speaking", bricks.told, nearest)


def _told(bricks: Bricks, rows: np.ndarray, fit: preset.Fit, held: np.ndarray) -> bytes:
    speaking = bricks.key[rows], bricks.origin[rows], bricks.turn[rows]
    return digest(*speaking, held, np.array(list(vars(fit).values())))


def _takes(bricks: Bricks, fit: preset.Fit, held: np.ndarray) -> float:
    shrink, touching, place = met(bricks, fit.clearance_mm)

    def half_go(tenths: int) -> float:
        """How far (mm) half of the bricks go at least, by the corner that goes farthest."""
        looseness = 0.1 * tenths
        goal = targets(bricks, touching, fit, _SEED, looseness, held, place)
        # What a repair would do after this is little, and to few bricks.
        found = Repair(Problem.of(bricks, touching, goal, shrink, fit, looseness, place)).solved()
        return float(np.median(farthest(bricks, Motions.packed(found, shrink))))

    enough, low, high = _ALL * half_go(_TENTHS), 0, _TENTHS
    if enough <= 0.0:
        return 0.0
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if half_go(middle) >= enough else (middle, high)
    return (high if high < _ALL * _TENTHS else _TENTHS) / 10  # in proportion to the end: it runs dry nowhere


def farthest(bricks: Bricks, motions: Motions) -> np.ndarray:
    """How far (N,) in mm each body goes, by the corner that goes farthest."""
    corner = _CORNERS * bricks.half[:, None]
    way = rigid.turned(motions.rotation[:, None], corner) - corner + motions.shift[:, None]
    return np.sqrt((way * way).sum(axis=2)).max(axis=1)
