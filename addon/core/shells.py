"""One mesh holding a whole build, taken apart into its closed shells, also where bricks touch and share edges.

Bricks that touch without clearance and were welded share vertices and edges, so connected pieces are not enough. Around
an edge with more than two faces each shell is a wedge of solid: it begins at a face whose outside looks back and ends
at the next face whose outside looks onward. Pairing faces that way keeps each brick to itself.
"""

from dataclasses import dataclass

import numpy as np

WELD = 1e-6  # of the largest coordinate: vertices nearer than this are one
_MOST_LOOKS = 2e9  # for the shells around cavities; what has more is no build
SAME_ANGLE = 1e-3  # radians: faces nearer than this around an edge lie on each other


@dataclass(frozen=True)
class Shells:
    """`label` (T,) names each triangle's shell, 0 … count-1, in the order the shells first appear; -1 where a triangle
    has two corners in one place. `closed` (count,) says which shells have no open edge."""

    label: np.ndarray
    closed: np.ndarray

    def __len__(self) -> int:
        return len(self.closed)


def split(vertices: np.ndarray, triangles: np.ndarray) -> Shells:
    """Split a mesh, vertices (V, 3) and triangles (T, 3), into its shells; cavities stay with the shell around them."""
    welded = weld(vertices, triangles)
    real = np.flatnonzero((welded != np.roll(welded, 1, axis=1)).all(axis=1))
    corners = vertices[triangles[real]].astype(float)
    faces = welded[real]
    if _volumes(corners).sum() < 0:
        corners, faces = corners[:, ::-1], faces[:, ::-1]  # inside out as a whole
    first, second, unpaired = _pairs(corners, faces)
    own = connected(len(faces), first, second)
    own = _with_cavities(own, corners, unpaired)
    label = np.full(len(triangles), -1)
    label[real] = own
    closed = np.ones(own.max() + 1 if len(own) else 0, dtype=bool)
    closed[own[unpaired]] = False
    return Shells(label, closed)


def is_closed(vertices: np.ndarray, triangles: np.ndarray) -> bool:
    """Whether the mesh encloses solid everywhere; vertices doubled at sharp edges count as one."""
    shells = split(vertices, triangles)
    return len(shells) > 0 and bool(shells.closed.all())


def weld(vertices: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Triangles (T, 3) over vertices of which those at the same place have one number."""
    step = WELD * max(np.abs(vertices).max(initial=0.0), 1e-30)
    number = np.zeros(len(vertices), dtype=np.int64)
    for axis in range(3):
        rank = _ranks(vertices[:, axis], step)
        number = number * (rank.max(initial=0) + 1) + rank
    return np.unique(number, return_inverse=True)[1][triangles]


def _ranks(values, step):
    """The place of each value in the row of distinct ones; values less than a step apart share it."""
    order = np.argsort(values, kind="stable")
    ranks = np.empty(len(values), dtype=np.int64)
    ranks[order] = np.cumsum(np.diff(values[order], prepend=values[order][:1]) > step)
    return ranks


def _volumes(corners):
    """Signed volume of each triangle with the origin, (T,), measured from the mesh's middle."""
    a, b, c = np.moveaxis(corners - corners.reshape(-1, 3).mean(axis=0), 1, 0) if len(corners) else np.zeros((3, 0, 3))
    return np.einsum("ij,ij->i", a, np.cross(b, c)) / 6


def _pairs(corners, faces):
    """Pairs of triangles joined across an edge, and the triangles that have an open edge."""
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
    return np.concatenate(first), np.concatenate(second), np.unique(np.concatenate(open_))


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


def _with_cavities(own, corners, unpaired):
    """Give each closed shell that is inside out to the smallest shell whose box holds it."""
    if not len(own):
        return own
    count = own.max() + 1
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(low, own, corners.min(axis=1))
    np.maximum.at(high, own, corners.max(axis=1))
    volume = np.bincount(own, _volumes(corners), count)
    volume[own[unpaired]] = 0  # an open shell has none
    home = np.arange(count)
    cavities = np.flatnonzero(volume < 0)
    for cavity in cavities if len(cavities) * count < _MOST_LOOKS else ():
        around = (volume > 0) & (low <= low[cavity]).all(axis=1) & (high >= high[cavity]).all(axis=1)
        if around.any():
            home[cavity] = np.flatnonzero(around)[volume[around].argmin()]
    return np.unique(home[own], return_inverse=True)[1]
