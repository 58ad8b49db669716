"""Which loose stud stands on which body. Sizes: common practice of the trade, no published source."""

import numpy as np

from ..sizes import MET
from . import nesting, surface
from .heap import ON, TOUCH, Shells, on_surfaces

_ROUND = 0.03  # of its width: what a round shell's two widths differ by
_MISSING_MM2 = 5.0  # of a stud's foot, nominally 18
_DEEP_MM = 0.3  # within a body's box: from there on what is no solid is a hole
_WITHIN_STUD = 0.6  # of the way from its middle: points that tell where it is rooted


def standing(shells: Shells, mm: float) -> np.ndarray:
    """Homes with every stud on the body that it stands on, at this scale."""
    low, high = shells.boxes.low * mm, shells.boxes.high * mm
    home = np.arange(len(shells))
    size = np.sort(shells.own_size * mm, axis=1)
    round_, long_ = size[:, 1:], size[:, 0]
    flat = (round_[:, 1] - round_[:, 0] <= _ROUND * round_[:, 1] + 0.05) & (long_ >= MET.marked_stud_height.least)
    stud = flat & MET.stud_diameter.holds(round_).all(axis=1)
    stud &= long_ <= MET.rooted_stud_height
    rooted = (size[:, 0] > MET.stud_diameter.least) & (size[:, 2] <= MET.rooted_stud_height)
    stud |= rooted & (np.abs(size[:, 0] - size[:, 1]) < 0.1)
    if not stud.any():
        return home
    both = _beside(shells, stud, size[:, 1] > MET.tube_diameter, mm)
    own = shells.kin(both)
    within = (low[both[:, 0]] >= low[both[:, 1]] - TOUCH) & (high[both[:, 0]] <= high[both[:, 1]] + TOUCH)
    housed = np.bincount(both[own & within.all(axis=1), 0], minlength=len(home)) > 0  # a socket's wall, left by itself
    both, way = _footings(shells, both[own | ~housed[both[:, 0]]], mm)
    stands, way = both[way.any(axis=1)], way[way.any(axis=1)]
    own = shells.kin(stands)
    at_home = np.bincount(stands[own, 0], minlength=len(home)) > 0
    first = own | ~at_home[stands[:, 0]]
    stands, way = stands[first], way[first]
    sure = np.bincount(stands[:, 0], minlength=len(home)) == 1
    plain = sure[stands[:, 0]]
    home[stands[plain, 0]] = stands[plain, 1]
    axis, hanging = divmod(int(way[plain].sum(axis=0).argmax()), 2)
    upright = np.where(np.arange(3) == axis, 1 - 2 * hanging, 0)
    both = both[~sure[both[:, 0]]]
    apart = np.maximum(low[both[:, 0]] - high[both[:, 1]], low[both[:, 1]] - high[both[:, 0]]).max(axis=1)
    own = shells.kin(both) & (apart <= TOUCH)
    at_home = np.bincount(both[own, 0], minlength=len(home)) > 0
    return on_surfaces(shells, home, both[own | ~at_home[both[:, 0]]], mm, TOUCH + 0.05, upright)


def _beside(shells: Shells, stud: np.ndarray, wide: np.ndarray, mm: float) -> np.ndarray:
    """Pairs (P, 2) of a stud and what is wide enough to stand on, near it; of a stud that stands on one of its own
    object alone, those of that object alone."""
    own = nesting.pairs_within(shells.thing, stud, wide, shells.boxes.low * mm, shells.boxes.high * mm, 2 * ON)
    if own is None:
        own = np.zeros((0, 2), dtype=np.intp)
    kept, way = _footings(shells, own, mm)
    lost = stud & (np.bincount(kept[way.any(axis=1), 0], minlength=len(stud)) != 1)
    own = own[~lost[own[:, 0]]]
    if not lost.any():
        return own
    near = shells.near(mm, lost | wide)
    return np.concatenate([own, near[lost[near[:, 0]] & wide[near[:, 1]]]])


def _footings(shells: Shells, pairs: np.ndarray, mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Those of pairs (P, 2) of a stud and a body that may be one, and on which sides (…, 6) it stands there."""
    low, high = shells.boxes.low * mm, shells.boxes.high * mm
    middle, facing = 0.5 * (low + high), shells.facing[pairs[:, 0]] * mm**2
    away = (facing * (middle[pairs[:, 0]] - middle[pairs[:, 1]])).sum(axis=1)
    is_open = (facing * facing).sum(axis=1) > _MISSING_MM2**2
    pairs = pairs[~is_open | (away > 0.0)]  # an open stud looks away from its body, a socket's wall at its own mouth
    pairs = pairs[~_in_holes(shells, pairs, mm)]
    return pairs, _stands(low, high, pairs)


def _in_holes(shells: Shells, pairs: np.ndarray, mm: float) -> np.ndarray:
    """(P,) of which pairs of a stud and a body the stud, longer than others, goes into the body's box, but only where
    this is hollow: an arm's pin in its hole, a neck in a head."""
    low, high = shells.boxes.low * mm, shells.boxes.high * mm
    found = np.zeros(len(pairs), dtype=bool)
    long_ = np.sort(shells.own_size[pairs[:, 0]] * mm, axis=1)[:, 0] > MET.marked_stud_height.most
    for n in np.flatnonzero(long_ & shells.closed[pairs[:, 1]]):
        stud, body = pairs[n]
        points = np.unique(shells.triangles(stud).reshape(-1, 3), axis=0) * mm
        points = points.mean(axis=0) + _WITHIN_STUD * (points - points.mean(axis=0))
        points = points[((points > low[body] + _DEEP_MM) & (points < high[body] - _DEEP_MM)).all(axis=1)]
        if len(points):
            found[n] = not surface.inside(points, shells.triangles(body) * mm).any()
    return found


def _stands(low, high, pairs) -> np.ndarray:
    """(P, 6) of which pairs (stud, body) the stud stands on an outer face or has its root in it: on +x, -x, +y, …"""
    stud, body = pairs.T
    inside = (low[stud] >= low[body] - TOUCH) & (high[stud] <= high[body] + TOUCH)
    stands = []
    for axis in range(3):
        across = np.delete(inside, axis, axis=1).all(axis=1)
        is_long = (high - low)[stud, axis] > MET.marked_stud_height.most
        for foot, face, top in (
            (low[stud, axis], high[body, axis], high[stud, axis]),
            (-high[stud, axis], -low[body, axis], -low[stud, axis]),
        ):
            out = top - face
            sunk = is_long & (foot < face) & (out >= MET.marked_stud_height.least)
            on = (np.abs(foot - face) <= TOUCH) | sunk
            stands.append(across & on & (out <= MET.marked_stud_height.most + TOUCH))
    return np.stack(stands, axis=1)
