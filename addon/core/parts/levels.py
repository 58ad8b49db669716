"""Levels of detail: one thing written several times at one place, finer and coarser.

Two solids cannot stand in each other, so what fills another's box, and lies in it or on it all over, is the same thing
with fewer faces, whatever it is called.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..build.boxes import box
from . import nesting, surface

_ROUGHLY = 0.25  # of a thing's size: what middles of two levels are apart by, one without the studs
_LEAST, _MOST = 0.5, 1.1  # of the finer one's size: that of a coarser one
_BOX = 0.07  # of a thing's size along an axis: what the ends of two levels are apart by: one may be round with six
_NEAR = 0.12  # of its least side: what the surface of a coarser one is off by
_FLAT = 5e-3  # of its middle side: what is thinner is a print
_WITHIN = 0.75  # of all directions a closed surface lies in, seen from a point inside
_ALL_OVER = 0.8  # of a thing's surface
_FILLED = 0.15  # of a solid level's volume: that of a hollow one; a sleeve has less
_MISSING = 0.25  # of the surface left out of open ones: what it may differ by
_FEWEST, _LOOKED_AT = 12, 64  # points of a thing's surface
_LOOKS = 4e6  # from these to triangles: of large meshes fewer points are looked at
_CHUNK = 20_000  # triangles looked at together
_MOST_PAIRS = 8  # a thing: what has more is no build in levels
_SIZE = 16.0  # that things are scaled to, so that cells hold few of them
_STEP = 1e-3  # poses nearer than this are one


@dataclass(frozen=True)
class Things:
    """N things as they stand, each of one of K meshes."""

    kind: np.ndarray  # (N,) which mesh
    frame: np.ndarray  # (N, 4, 4) from its mesh's axes to the file's space
    low: np.ndarray  # (K, 3) of its box, in its own axes
    high: np.ndarray  # (K, 3)
    triangles: np.ndarray  # (K,) how many
    closed: np.ndarray  # (K,) whether there is no open edge
    volume: np.ndarray  # (K,)
    missing: np.ndarray  # (K,) the area that open ones lack, seen along one direction
    corners: Callable[[int], np.ndarray]  # the triangles (T, 3, 3) of a mesh


def coarser(things: Things) -> np.ndarray:
    """(N,) which things are a coarser level of another. Where there are any, of equals the first is kept too: what is
    simple has as many faces in all levels."""
    finer, rougher = _at_one_place(things)
    counts = things.triangles[things.kind]
    known: dict[tuple, bool] = {}
    found, equal = np.zeros((2, len(things.kind)), dtype=bool)
    for fine, rough in zip(finer.tolist(), rougher.tolist(), strict=True):
        turn = np.linalg.inv(things.frame[fine]) @ things.frame[rough]
        key = things.kind[fine], things.kind[rough], _rounded(turn, things, things.kind[fine])
        if key not in known:
            known[key] = _is_level(things, *key[:2], turn)
        if known[key]:
            (equal if counts[fine] == counts[rough] else found)[rough] = True
    return found | equal if found.any() else found


def _rounded(turn: np.ndarray, things: Things, kind: int) -> bytes:
    size = (things.high - things.low)[kind].max()
    return np.rint(np.c_[turn[:3, :3], turn[:3, 3] / size] / _STEP).tobytes()


def _at_one_place(things: Things) -> tuple[np.ndarray, np.ndarray]:
    """The finer and the coarser ones of pairs that stand at one place and may be levels by their boxes."""
    linear, kind = things.frame[:, :3, :3], things.kind
    middle = 0.5 * (things.low + things.high)[kind]
    middle = (linear @ middle[:, :, None])[:, :, 0] + things.frame[:, :3, 3]
    size = (np.abs(linear) @ (things.high - things.low)[kind][:, :, None])[:, :, 0]
    own = np.sort(things.high - things.low, axis=1)[kind]
    solid = np.flatnonzero((own[:, 0] > _FLAT * own[:, 1]) & (things.triangles[kind] > 0))
    scale = _SIZE / max(np.median(size[solid].max(axis=1)), 1e-30) if len(solid) else 1.0
    centre = middle[solid] * scale
    pairs = solid[nesting.pairs(centre, centre, _ROUGHLY * _SIZE)]
    if len(pairs) > _MOST_PAIRS * len(kind):
        pairs = pairs[:0]
    swapped = things.triangles[kind][pairs[:, 0]] < things.triangles[kind][pairs[:, 1]]
    fine, rough = np.where(swapped[:, None], pairs[:, ::-1], pairs).T
    may = (np.abs(middle[fine] - middle[rough]) <= _ROUGHLY * size[fine]).all(axis=1)
    may &= (size[rough] <= _MOST * size[fine]).all(axis=1) & (size[rough] >= _LEAST * size[fine]).all(axis=1)
    return fine[may], rough[may]


def _is_level(things: Things, fine: int, rough: int, turn: np.ndarray) -> bool:
    """Whether the second mesh, standing at `turn` (4, 4) in the first one's axes, is the same thing."""
    grown, both, closed = np.array([1.0, np.abs(np.linalg.det(turn[:3, :3]))]), [fine, rough], things.closed[fine]
    volume, missing = things.volume[both] * grown, things.missing[both] * grown ** (2 / 3)
    if closed != things.closed[rough] or volume.min() < _FILLED * volume.max():
        return False
    if not closed and np.ptp(missing) > _MISSING * missing.max():
        return False
    one, other = things.corners(fine), things.corners(rough) @ turn[:3, :3].T + turn[:3, 3]
    if not _fill_one_box(one, other):
        return False
    near = _NEAR * (things.high - things.low)[fine].min()
    return _lies_in(one, other, near) or _lies_in(other, one, near)


def _fill_one_box(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether both reach as far each way, with studs or without."""
    ends = np.abs(np.subtract(box(one.reshape(-1, 3)), box(other.reshape(-1, 3))))
    near = _BOX * np.ptp(one.reshape(-1, 3), axis=0)
    return bool((np.minimum(ends[:2], ends[2:]) <= near).all())


def _lies_in(one: np.ndarray, other: np.ndarray, near: float) -> bool:
    """Whether nearly all of one's surface lies within the other or near its surface."""
    points = surface.spread(one, int(np.clip(_LOOKS / len(other), _FEWEST, _LOOKED_AT)))
    chunks = [other[n : n + _CHUNK] for n in range(0, len(other), _CHUNK)]
    on = np.min([surface.distances(points, chunk, near) for chunk in chunks], axis=0) <= near
    around = np.sum([_seen_around(points, chunk) for chunk in chunks], axis=0)
    return bool((on | (np.abs(around) > _WITHIN)).mean() >= _ALL_OVER)


def _seen_around(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """(P,) the share of all directions in which each point sees the inside of triangles: their solid angles, by
    Van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30, 125 (1983)."""
    a, b, c = np.moveaxis(triangles[None] - points[:, None, None], 2, 0)
    la, lb, lc = (np.linalg.norm(arm, axis=2) for arm in (a, b, c))
    volume = (a * np.cross(b, c)).sum(axis=2)
    flat = la * lb * lc + (a * b).sum(axis=2) * lc + (b * c).sum(axis=2) * la + (c * a).sum(axis=2) * lb
    return np.arctan2(volume, flat).sum(axis=1) / (2.0 * np.pi)
