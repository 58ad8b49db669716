"""How deep bodies cut into each other: separating axes on their true, turned boxes.

Gottschalk, Lin, Manocha: OBBTree, SIGGRAPH 1996: two boxes are apart exactly if they are apart along one of the
fifteen axes made of their face normals and the products of their edges.
"""

from itertools import product

import numpy as np

from . import rigid, threads
from .bricks import Pieces

_CHUNK = 32768  # pairs looked at together: what a cache holds, since few of them need a close look
_CLOSE = 2048  # pairs that are looked at closely together, in fifteen directions


def penetration(pieces: Pieces, pairs: np.ndarray) -> np.ndarray:
    """Depth (P,) in mm by which the boxes of each pair (P, 2) overlap; negative: a lower bound of their distance."""
    return threads.joined(lambda part: narrowest(pieces, pairs[part])[0], len(pairs), _CLOSE)


def narrowest(pieces: Pieces, pairs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The least overlap (P,) in mm that any direction shows between the boxes of each pair (P, 2), and that direction.

    Directions (P, 3) are of length 1. A negative overlap is a lower bound of the boxes' distance.
    """
    i, j = pairs.T
    apart = pieces.centre[j] - pieces.centre[i]
    first, second = (np.moveaxis(pieces.turn[each], -1, 0) for each in (i, j))
    crossed = [np.cross(first[n], second) for n in range(3)]
    direction = np.concatenate([first, second, *crossed])  # (15, P, 3)
    size = rigid.length(direction)
    parallel = size < 1e-9
    unit = direction / np.where(parallel, 1.0, size)[..., None]
    found = np.where(parallel, np.inf, _overlap(pieces, i, j, apart, unit))
    least = found.argmin(axis=0)
    pair = np.arange(len(pairs))
    return found[least, pair], unit[least, pair]


def overlap_along(pieces: Pieces, pairs: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Overlap (P,) of the shadows of each pair's boxes along a unit direction (P, 3); negative: they are apart."""
    i, j = pairs.T
    return _overlap(pieces, i, j, pieces.centre[j] - pieces.centre[i], direction)


def cuts(pieces: Pieces, pairs: np.ndarray, normals: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Depth (P,) of each pair's cut, 0 where the boxes are apart.

    `along` (P,) tells which of the `normals` (F, 3) they are apart along at rest, and mostly still are: then, or along
    the first box's face that looks that way, or the second's, nothing more is asked.
    """
    reach = pieces.reach
    return threads.joined(lambda part: _cuts(pieces, reach, pairs[part], normals[along[part]]), len(pairs), _CHUNK)


def _cuts(pieces: Pieces, reach: np.ndarray, pairs: np.ndarray, normals: np.ndarray) -> np.ndarray:
    depth = np.zeros(len(pairs))
    left = np.flatnonzero(_shadows(pieces, reach, pairs, normals) > 0)
    for end in range(2):
        left = left[overlap_along(pieces, pairs[left], _facing(pieces, pairs[left, end], normals[left])) > 0]
    for end, axis in product(range(2), range(3)):
        left = left[overlap_along(pieces, pairs[left], pieces.turn[pairs[left, end], :, axis]) > 0]
    depth[left] = np.maximum(penetration(pieces, pairs[left]), 0.0)
    return depth


def _shadows(pieces: Pieces, reach: np.ndarray, pairs: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """As `overlap_along`, but quick along the build's axes, where most bricks meet."""
    x, y, z = (np.abs(direction) == 1.0).T
    i, j = 3 * pairs.T + (y + 2 * z)
    centre, reach = pieces.centre.ravel(), reach.ravel()
    found = reach.take(i) + reach.take(j) - np.abs(centre.take(j) - centre.take(i))
    turned = np.flatnonzero(~(x | y | z))
    found[turned] = overlap_along(pieces, pairs[turned], direction[turned])
    return found


def _facing(pieces: Pieces, piece: np.ndarray, direction: np.ndarray) -> np.ndarray:
    turn = pieces.turn[piece]
    nearest = np.abs(rigid.turned(rigid.transpose(turn), direction)).argmax(axis=1)
    return np.take_along_axis(turn, nearest[:, None, None], axis=2)[:, :, 0]


def _overlap(pieces: Pieces, i, j, apart, direction) -> np.ndarray:
    return _reach(pieces, i, direction) + _reach(pieces, j, direction) - np.abs(rigid.dot(direction, apart))


def _reach(pieces: Pieces, piece: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """How far a box reaches from its centre along a direction."""
    return rigid.dot(np.abs(rigid.turned(rigid.transpose(pieces.turn[piece]), direction)), pieces.half[piece])
