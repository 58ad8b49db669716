"""One mesh holding a whole build, taken apart into its closed shells, also where bricks touch and share edges.

Bricks that touch without clearance and were welded share vertices and edges, so connected pieces are not enough. Around
an edge with more than two faces each shell is a wedge of solid: it begins at a face whose outside looks back and ends
at the next face whose outside looks onward. Pairing faces that way keeps each brick to itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import runs

WELD = 1e-6  # of the largest coordinate: vertices nearer than this are one
_MOST_LOOKS = 2e9  # for the shells around cavities; what has more is no build
SAME_ANGLE = 1e-3  # radians: faces nearer than this around an edge lie on each other


@dataclass(frozen=True)
class Shells:
    """`label` (T,) names each triangle's shell, 0 … count-1, in the order the shells first appear; -1 where a triangle
    has two corners in one place. `closed` (count,) says which shells have no open edge, `same` (count,) of which one
    each is a copy, triangle for triangle, and `shift` (count, 3) how far off."""

    label: np.ndarray
    closed: np.ndarray
    same: np.ndarray
    shift: np.ndarray

    @classmethod
    def unlike(cls, label: np.ndarray, closed: np.ndarray) -> "Shells":
        """Of which none is known to be a copy."""
        return cls(label, closed, np.arange(len(closed)), np.zeros((len(closed), 3)))

    def firsts(self) -> np.ndarray:
        """(T,) the labels of shells that are no copies, -1 for all others."""
        first = self.same == np.arange(len(self))
        return np.where((self.label >= 0) & np.r_[first, False][self.label], self.label, -1)

    def __len__(self) -> int:
        return len(self.closed)


def split(vertices: np.ndarray, triangles: np.ndarray, words: Callable[[], np.ndarray] | None = None) -> Shells:
    """Split a mesh, vertices (V, 3) and triangles (T, 3), into its shells; cavities stay with the shell around them.

    What was written as a closed piece is looked at by itself, and of copies, which also have `words` (T,) alike, only
    the first.
    """
    pieces = runs.closed(vertices, triangles) if len(triangles) >= runs.MANY else np.zeros((0, 2), dtype=np.intp)
    first = runs.copies(vertices, triangles, pieces, words() if words and len(pieces) > 1 else None)
    chosen, piece = _looked_at(len(triangles), pieces, first)
    welded = weld(vertices, triangles[chosen])
    if len(pieces):
        apart = welded + (piece * (welded.max(initial=0) + 1))[:, None]
        welded = np.unique(apart, return_inverse=True)[1].reshape(-1, 3)
    real = np.flatnonzero((welded != np.roll(welded, 1, axis=1)).all(axis=1))
    corners, faces = vertices[triangles[chosen[real]]].astype(float), welded[real]
    volume = volumes(corners)
    often = np.r_[np.bincount(first, minlength=len(pieces)), 1][piece[real]]
    if (volume * often).sum() < 0:
        corners, faces, volume = corners[:, ::-1], faces[:, ::-1], -volume  # inside out as a whole
    one, other, unpaired = _pairs(corners, faces)
    own = connected(len(faces), one, other)
    closed = np.ones(own.max() + 1 if len(own) else 0, dtype=bool)
    closed[own[unpaired]] = False
    label = np.full(len(chosen), -1)
    label[real] = own
    found, source = _everywhere(label, closed, chosen, piece, _Copied(vertices, triangles, pieces, first))
    return _in_order(_with_cavities(found, source, own, corners, np.bincount(own, volume, len(closed))))


@dataclass(frozen=True)
class _Copied:
    """Pieces (R, 2) of a mesh, and the `first` (R,) that each is a copy of."""

    vertices: np.ndarray
    triangles: np.ndarray
    pieces: np.ndarray
    first: np.ndarray

    def shift(self) -> np.ndarray:
        """(R, 3) how far off its first each piece is."""
        corner = self.vertices[self.triangles[self.pieces[:, 0], 0]]
        return corner - corner[self.first]


def _looked_at(count: int, pieces: np.ndarray, first: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The triangles that are looked at, those of no piece before the pieces that are no copies, and the piece that each
    is of, -1 for none."""
    inside = np.zeros(count + 1, dtype=np.int64)
    np.add.at(inside, pieces[:, 0], 1)
    np.add.at(inside, pieces[:, 1], -1)
    loose = np.flatnonzero(np.cumsum(inside[:-1]) == 0)
    firsts = np.flatnonzero(first == np.arange(len(first)))
    piece, own = runs.triangles_of(pieces[firsts])
    return np.r_[loose, own], np.r_[np.full(len(loose), -1), firsts[piece]]


def _everywhere(label, closed, chosen, piece, copied) -> tuple[Shells, np.ndarray]:
    """The shells of all triangles out of those of the ones looked at, and which of these each is a copy of."""
    pieces, first = copied.pieces, copied.first
    of = np.full(len(closed), -1)
    of[label[label >= 0]] = piece[label >= 0]
    loose = np.flatnonzero(of < 0)
    count = np.bincount(of[of >= 0], minlength=len(pieces))
    order = np.argsort(of, kind="stable")
    least = np.r_[order, 0][np.searchsorted(of[order], np.arange(len(pieces)))]
    begin = len(loose) + np.cumsum(count[first]) - count[first]
    found = np.full(len(copied.triangles), -1)
    rest = piece < 0
    found[chosen[rest]] = np.r_[np.cumsum(of < 0) - 1, -1][label[rest]]  # the last is that of none
    which, own = runs.triangles_of(pieces)
    stands = np.searchsorted(piece[~rest], np.arange(len(pieces))) + rest.sum()
    theirs = label[(stands[first] - pieces[:, 0])[which] + own] if len(which) else np.zeros(0, dtype=int)
    found[own] = np.where(theirs < 0, -1, theirs + (begin - least[first])[which])
    shell = np.repeat(np.arange(len(pieces)), count[first])
    within = len(loose) + np.arange(len(shell)) - begin[shell]
    source = np.r_[loose, least[first[shell]] + within]
    same = np.r_[np.arange(len(loose)), begin[first[shell]] + within]
    shift = np.r_[np.zeros((len(loose), 3)), copied.shift()[shell]]
    return Shells(found, closed[source], same, shift), source


def _in_order(shells: Shells) -> Shells:
    """The same, numbered in the order in which they first appear."""
    real = np.flatnonzero(shells.label >= 0)[::-1]
    seen = np.full(len(shells), len(shells.label))
    seen[shells.label[real]] = real  # the last one written, the first in the row, stays
    order = np.argsort(seen)
    number = np.empty_like(order)
    number[order] = np.arange(len(order))
    label = np.where(shells.label < 0, -1, number[shells.label]) if len(order) else shells.label
    return Shells(label, shells.closed[order], number[shells.same[order]], shells.shift[order])


def is_closed(vertices: np.ndarray, triangles: np.ndarray) -> bool:
    """Whether the mesh encloses solid everywhere; vertices doubled at sharp edges count as one."""
    shells = split(vertices, triangles)
    return len(shells) > 0 and bool(shells.closed.all())


def weld(vertices: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Triangles (T, 3) over vertices of which those at the same place have one number."""
    step = WELD * max(np.abs(vertices).max(initial=0.0), 1e-30)
    used = np.zeros(len(vertices), dtype=bool)
    used[triangles] = True
    number = np.zeros(used.sum(), dtype=np.int64)
    for axis in range(3):
        rank = _ranks(vertices[used, axis], step)
        number = number * (rank.max(initial=0) + 1) + rank
    return np.unique(number, return_inverse=True)[1][(np.cumsum(used) - 1)[triangles]]


def _ranks(values, step):
    """The place of each value in the row of distinct ones; values less than a step apart share it."""
    order = np.argsort(values, kind="stable")
    ranks = np.empty(len(values), dtype=np.int64)
    ranks[order] = np.cumsum(np.diff(values[order], prepend=values[order][:1]) > step)
    return ranks


def volumes(corners):
    """Signed volume of each triangle with the origin, (T,), measured from the mesh's middle."""
    a, b, c = np.moveaxis(corners - corners.reshape(-1, 3).mean(axis=0), 1, 0) if len(corners) else np.zeros((3, 0, 3))
    return np.einsum("ij,ij->i", a, np.cross(b, c)) / 6


def _pairs(corners, faces):
    """Pairs of triangles joined across an edge, and the triangles that have an open edge, once for each."""
    face = np.repeat(np.arange(len(faces)), 3)
    tail, head = faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1)
    forward = tail < head
    edge = np.minimum(tail, head) * (faces.max(initial=0) + 1) + np.maximum(tail, head)
    angle_rank = _ranks_around_edges(corners, edge, forward)
    order = np.lexsort((~forward, angle_rank, edge))
    starts = np.flatnonzero(np.r_[True, edge[order][1:] != edge[order][:-1]]) if len(order) else order
    counts = np.diff(np.r_[starts, len(order)])
    first, second, open_ = [], [], [face[order[starts[counts == 1]]]]
    two = starts[counts == 2]
    first.append(face[order[two]])
    second.append(face[order[two + 1]])
    for start, count in zip(starts[counts > 2], counts[counts > 2], strict=True):
        around = order[start : start + count]
        begun, ended, left = _wedges(forward[around])
        first.append(face[around[begun]])
        second.append(face[around[ended]])
        open_.append(face[around[left]])
    return np.concatenate(first), np.concatenate(second), np.concatenate(open_)


def _ranks_around_edges(corners, edge, forward):
    """For each half-edge of a crowded edge its place in the turn around that edge; faces that coincide share one."""
    _, group, counts = np.unique(edge, return_inverse=True, return_counts=True)
    ranks = np.zeros(len(edge), dtype=np.int64)
    crowded = np.flatnonzero(counts[group] > 2)
    if not len(crowded):
        return ranks
    crowded = crowded[np.argsort(group[crowded], kind="stable")]
    face, corner = np.divmod(crowded, 3)
    tail, head, apex = (corners[face, (corner + k) % 3] for k in range(3))
    along = np.where(forward[crowded, None], head - tail, tail - head)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    arm = apex - tail
    arm -= np.einsum("ij,ij->i", arm, along)[:, None] * along
    fresh = np.r_[True, np.diff(group[crowded]) != 0]
    leader = np.maximum.accumulate(np.where(fresh, np.arange(len(crowded)), 0))
    x, along = arm[leader], along[leader]
    y = np.cross(along, x)
    angle = np.arctan2(np.einsum("ij,ij->i", arm, y), np.einsum("ij,ij->i", arm, x)) % (2 * np.pi)
    angle[angle > 2 * np.pi - SAME_ANGLE] = 0
    sort = np.lexsort((angle, group[crowded]))
    apart = np.r_[True, (np.diff(group[crowded][sort]) != 0) | (np.diff(angle[sort]) > SAME_ANGLE)]
    ranks[crowded[sort]] = np.cumsum(apart)
    return ranks


def _wedges(ends):
    """Match the faces around one edge: (begins, ends, left over) as positions; `ends` says where solid ends."""
    begun, starts, stops = [], [], []
    turn = [*range(len(ends))]
    for place in turn + [place for place in turn if ends[place]]:  # a second time for wedges across the start
        if not ends[place]:
            begun.append(place)
        elif begun and place not in stops:
            starts.append(begun.pop())
            stops.append(place)
    return starts, stops, begun + [place for place in turn if ends[place] and place not in stops]


def connected(count: int, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Numbers (count,) of what hangs together by pairs `first`, `second`, in the order they first appear."""
    root = np.arange(count)
    while True:
        least = np.minimum(root[first], root[second])
        before = root.copy()
        np.minimum.at(root, root[first], least)
        np.minimum.at(root, root[second], least)
        while (root[root] != root).any():
            root = root[root]
        if (root == before).all():
            return np.unique(root, return_inverse=True)[1]


def _with_cavities(found, source, own, corners, volume) -> Shells:
    """Give each closed shell that is inside out to the smallest shell whose box holds it."""
    if not len(found):
        return found
    order = np.argsort(own, kind="stable")
    starts = np.searchsorted(own[order], np.arange(len(volume)))
    low, high = (np.concatenate([
        end.reduceat(end.reduce(corners[:, :, axis], axis=1)[order], starts)[:, None] for axis in range(3)
    ], axis=1)[source] + found.shift for end in (np.minimum, np.maximum))  # fmt: skip
    volume = np.where(found.closed, volume[source], 0)  # an open shell has none
    home = np.arange(len(found))
    cavities = np.flatnonzero(volume < 0)
    for cavity in cavities if len(cavities) * len(found) < _MOST_LOOKS else ():
        around = (volume > 0) & (low <= low[cavity]).all(axis=1) & (high >= high[cavity]).all(axis=1)
        if around.any():
            home[cavity] = np.flatnonzero(around)[volume[around].argmin()]
    if (home == np.arange(len(home))).all():
        return found
    changed = np.bincount(home, minlength=len(home)) != 1
    changed |= changed[found.same]
    same = np.where(changed, np.arange(len(home)), found.same)
    kept = np.flatnonzero(home == np.arange(len(home)))
    number = np.cumsum(home == np.arange(len(home))) - 1
    label = np.where(found.label < 0, -1, number[home][found.label])
    closed = np.bincount(home, ~found.closed, len(home)) == 0
    return Shells(label, closed[kept], number[same[kept]], np.where(changed[:, None], 0, found.shift)[kept])
