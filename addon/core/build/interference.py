"""How deep bodies cut into each other: separating axes on their true, turned boxes and hulls.

Gottschalk, Lin, Manocha: OBBTree, SIGGRAPH 1996: two boxes are apart exactly if they are apart along one of the
fifteen axes made of their face normals and the products of their edges; so are two convex solids, with as many axes as
they have faces and pairs of edges.
"""

from functools import partial

import numpy as np

from .. import rigid, threads
from ..remembered import digest, number
from .bricks import Pieces

_CHUNK = threads.CHUNK  # pairs looked at together, since few of them need a close look
_AFTER, _BEFORE = [1, 2, 0], [2, 0, 1]  # x, y and z of a cross product
_FAR_MM = 1.0
_CLOSE_TRIANGLES = 16  # looked at closely together
_NUMBERS = 1 << 20  # worked out together for hulls
_CLOSE = 2048  # pairs that are looked at closely together, in fifteen directions


def penetration(pieces: Pieces, pairs: np.ndarray) -> np.ndarray:
    """Depth (P,) in mm by which the boxes of each pair (P, 2) overlap; negative: a lower bound of their distance."""
    return threads.joined(lambda part: narrowest(pieces, pairs[part])[0], len(pairs), _CLOSE)


def narrowest(pieces: Pieces, pairs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The least overlap (P,) in mm that any direction shows between the solids of each pair (P, 2), and that direction.

    Directions (P, 3) are of length 1 and lead from the first to the second. A negative overlap is a lower bound of
    their distance.
    """
    overlap, direction = np.empty(len(pairs)), np.empty((len(pairs), 3))
    kind = pieces.hull[pairs]
    full = (kind == 0).all(axis=1)
    overlap[full], direction[full] = _between_boxes(pieces, pairs[full])
    for first, second in np.unique(kind[~full], axis=0):
        alike = np.flatnonzero((kind == (first, second)).all(axis=1))
        both = pieces.hulls[first], pieces.hulls[second]
        axes = 2 * (len(both[0].normals) + len(both[1].normals) + len(both[0].edges) * len(both[1].edges))
        for part in threads.slices(len(alike), max(_NUMBERS // (axes * max(len(each.corners) for each in both)), 1)):
            chosen = alike[part]
            overlap[chosen], direction[chosen] = _between_hulls(pieces, pairs[chosen])
    return overlap, direction


def _between_hulls(pieces: Pieces, pairs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """As `narrowest`, of pairs of the same two hulls."""
    corners, normals, edges = (list(both) for both in zip(*map(pieces.solids, pairs.T), strict=True))
    overlap, way = _least_overlap(corners, normals, [each[:, :0] for each in edges])
    deep = np.flatnonzero(overlap > 0)  # the rest are apart as they look at each other
    if len(deep):
        overlap[deep], way[deep] = _least_overlap(
            *([each[deep] for each in both] for both in (corners, normals, edges))
        )
    return overlap, way


def pierced(pieces: Pieces, piece: int, triangles: np.ndarray) -> float:
    """How deep (mm) a surface of triangles (T, 3, 3) goes into a solid; negative: a lower bound of its distance."""
    solid = [each[0] for each in pieces.solids(np.array([piece]))]
    low, high = solid[0].min(axis=0) - _FAR_MM, solid[0].max(axis=0) + _FAR_MM
    near = (triangles.min(axis=1) < high).all(axis=1) & (triangles.max(axis=1) > low).all(axis=1)
    if not near.any():
        return -_FAR_MM
    near = triangles[near]
    return number(digest(*solid, near), partial(_deepest, solid, near))


def _deepest(solid: list[np.ndarray], near: np.ndarray) -> float:
    """How deep (mm) the deepest of triangles (T, 3, 3) goes into a solid by its corners, normals and edges."""
    side = np.roll(near, -1, axis=1) - near
    flat = np.cross(side[:, 0], side[:, 1])[:, None]
    most, deepest = _along_normals(solid[0], solid[1], near, flat[:, 0]), -np.inf
    for chosen in np.array_split(np.argsort(-most, kind="stable"), -(-len(near) // _CLOSE_TRIANGLES)):
        if most[chosen[0]] <= deepest:
            break
        corners, normals, edges = (np.broadcast_to(each, (len(chosen), *each.shape)) for each in solid)
        overlap, _ = _least_overlap([corners, near[chosen]], [normals, flat[chosen]], [edges, side[chosen]])
        deepest = max(deepest, float(overlap.max()))
    return deepest


def _along_normals(corners, normals, triangles: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """The least overlap (T,) that the normals of a solid and those of triangles (T, 3, 3), `flat` (T, 3), show: no less
    than that along all directions."""
    unit = normals / rigid.length(normals)[:, None]
    (low, high), (low_t, high_t) = (_ends(each, unit[None]) for each in (corners[None], triangles))
    seen = np.minimum(high - low_t, high_t - low).min(axis=1)
    flat = flat / np.maximum(rigid.length(flat), 1e-12)[:, None]
    level = rigid.dot(flat[:, None], corners[None]) - rigid.dot(flat, triangles[:, 0])[:, None]
    return np.minimum(seen, np.minimum(level.max(axis=1), -level.min(axis=1)))


def _least_overlap(corners: list, normals: list, edges: list) -> tuple[np.ndarray, np.ndarray]:
    """As `narrowest`, of pairs of solids by their corners (P, V, 3), normals (P, F, 3) and edges (P, E, 3)."""
    crossed = np.cross(edges[0][:, :, None], edges[1][:, None])
    direction = np.concatenate([*normals, crossed.reshape(len(crossed), -1, 3)], axis=1)
    size = rigid.length(direction)
    parallel = size < 1e-9
    direction = direction / np.where(parallel, 1.0, size)[:, :, None]
    (low_i, high_i), (low_j, high_j) = (_ends(each, direction) for each in corners)
    ahead, back = high_i - low_j, high_j - low_i
    overlap = np.where(parallel, np.inf, np.minimum(ahead, back))
    least, pair = overlap.argmin(axis=1), np.arange(len(crossed))
    way = np.where((ahead <= back)[pair, least, None], direction[pair, least], -direction[pair, least])
    return overlap[pair, least], way


def _ends(corners: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """From where to where (P, D) corners (P, V, 3) reach along directions (P, D, 3)."""
    along = rigid.dot(direction[:, :, None], corners[:, None])
    return along.min(axis=2), along.max(axis=2)


def _between_boxes(pieces: Pieces, pairs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """As `narrowest`, of boxes that are full."""
    i, j = pairs.T
    apart = (pieces.centre[j] - pieces.centre[i]).T
    first, second = (rigid.columns(pieces.turn[each]) for each in (i, j))
    crossed = first[_AFTER, :, None] * second[_BEFORE, None] - first[_BEFORE, :, None] * second[_AFTER, None]
    direction = np.concatenate([first, second, crossed.reshape(3, 9, -1)], axis=1)  # (3, 15, P)
    size = np.sqrt(rigid.weighted(direction, direction))
    parallel = size < 1e-9
    direction /= np.where(parallel, 1.0, size)
    overlap = -np.abs(rigid.weighted(direction, apart))
    for axes, half in ((first, pieces.half[i]), (second, pieces.half[j])):
        for axis in range(3):
            overlap += np.abs(rigid.weighted(direction, axes[:, axis])) * half[:, axis]
    overlap[parallel] = np.inf
    least, pair = overlap.argmin(axis=0), np.arange(len(pairs))
    way = direction[:, least, pair].T
    beyond = rigid.dot(way, apart.T) >= 0
    return overlap[least, pair], np.where(beyond[:, None], way, -way)


def _overlap_along(pieces: Pieces, pairs: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Overlap (P,) of the shadows of each pair's boxes along a unit direction (P, 3); negative: they are apart."""
    i, j = pairs.T
    return _overlap(pieces, i, j, pieces.centre[j] - pieces.centre[i], direction)


def cuts(pieces: Pieces, pairs: np.ndarray, normals: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Depth (P,) of each pair's cut, 0 where the boxes are apart.

    `along` (P,) tells which of the `normals` (F, 3) they are apart along at rest, and mostly still are: then, or along
    the first box's face that looks that way, or the second's, nothing more is asked.
    """
    shadows = _Shadows(pieces, normals)

    def depth(part: slice) -> np.ndarray:
        found, pair, direction = np.zeros(part.stop - part.start), pairs[part], along[part]
        left = np.flatnonzero(shadows.overlap(pair, direction) > 0)
        for end in (0, 1):
            left = left[_overlap_beyond(pieces, pair[left, end], pair[left, 1 - end], normals, direction[left]) > 0]
        found[left] = np.maximum(penetration(pieces, pair[left]), 0.0)
        return found

    return threads.joined(depth, len(pairs), _CHUNK)


class _Shadows:
    """Overlaps along some directions (F, 3): quick along the build's axes, where most bricks meet."""

    def __init__(self, pieces: Pieces, directions: np.ndarray):
        self.pieces, self.directions = pieces, directions
        self._axis, self._askew = np.abs(directions).argmax(axis=1), ~(np.abs(directions) == 1.0).any(axis=1)
        self._centre, self._reach = pieces.centre.ravel(), pieces.reach.ravel()

    def overlap(self, pairs: np.ndarray, along: np.ndarray) -> np.ndarray:
        """As `_overlap_along`, (P,) for pairs (P, 2), each along one of the directions (P,)."""
        i, j = 3 * pairs.T + self._axis.take(along)
        found = self._reach.take(i) + self._reach.take(j) - np.abs(self._centre.take(j) - self._centre.take(i))
        askew = np.flatnonzero(self._askew.take(along))
        found[askew] = _overlap_along(self.pieces, pairs[askew], self.directions[along[askew]])
        return found


def _overlap_beyond(pieces: Pieces, own, other, normals: np.ndarray, along: np.ndarray) -> np.ndarray:
    """As `_overlap_along`, along that face of each of a piece's (P,) own that looks most along one of the normals."""
    turn = pieces.turn.take(own, axis=0)
    nearest = np.abs(_looks(turn, normals, along)).argmax(axis=1)
    row = np.arange(len(own))
    facing, half = turn[row, :, nearest], pieces.half[own, nearest]
    away = pieces.centre.take(other, axis=0) - pieces.centre.take(own, axis=0)
    return half + _reach(pieces, other, facing) - np.abs(rigid.dot(facing, away))


def _looks(turn: np.ndarray, normals: np.ndarray, along: np.ndarray) -> np.ndarray:
    """How far (P, 3) the axes of turns (P, 3, 3) go along some of the normals (P,)."""
    axis = np.abs(normals).argmax(axis=1)
    looks = turn[np.arange(len(turn)), axis.take(along)]
    askew = np.flatnonzero(~(np.abs(normals) == 1.0).any(axis=1).take(along))
    looks[askew] = rigid.turned(rigid.transpose(turn[askew]), normals[along[askew]])
    return looks


def _overlap(pieces: Pieces, i, j, apart, direction) -> np.ndarray:
    return _reach(pieces, i, direction) + _reach(pieces, j, direction) - np.abs(rigid.dot(direction, apart))


def _reach(pieces: Pieces, piece: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """How far a box reaches from its centre along a direction."""
    return rigid.dot(np.abs(rigid.turned(rigid.transpose(pieces.turn[piece]), direction)), pieces.half[piece])
