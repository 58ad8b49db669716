"""What has no play in what holds it moves with it: as one, or along its faces and about their normal alone.

A bar that the export presses into its clip is carried by what it lies in. Fingers of a hinge between those of the
other half leave each other no way along their axis: one half slides across and turns about it as seen from the other.
A solve meets such limits only nearly; what it leaves is taken off here, so that they are kept to the last bit.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .. import rigid
from ..build.bricks import Bricks
from ..build.touching import JOINT, LODGED, SIDE, Contacts
from ..parts.shells import connected
from .targets import Targets

NO_PLAY_MM = 5e-3  # less than this is none: solves come about as near to a limit
_STIFF_MM = 1e-3  # joints with less play and lift hold like glue
_OPPOSITE = -0.999999  # cosine between faces that look at each other: under a tenth of a degree


@dataclass(frozen=True)
class Ties:
    """Which of N bricks have no play between them."""

    rank: np.ndarray  # (N,) who carries whom, the lesser the greater: first what cannot move, then what is larger
    root: np.ndarray  # (N,) the brick that carries each: itself, but where it moves as one with others
    on: np.ndarray  # (C, 2) roots of which the second slides along faces of the first, that first
    normal: np.ndarray  # (C, 3) of these faces, at rest
    closed: np.ndarray  # (K,) which contacts are those faces: they neither open nor close
    about: np.ndarray  # (N, 3) mm, where the bricks' motions turn about

    @classmethod
    def of(cls, bricks: Bricks, touching: Contacts, mobile: np.ndarray) -> "Ties":
        """Those of a build of which some bricks are `mobile` (N,): the others carry, they are not carried."""
        pressed, between = (touching.kind == LODGED) & (touching.gap < NO_PLAY_MM), _closed(bricks, touching)
        pressed[[faces[0] for faces in between if len(faces) > 1]] = True  # from two sides
        faces = np.array([rows[0] for rows in between if len(rows) == 1], dtype=np.int64)
        closed = np.zeros(len(touching), dtype=bool)
        closed[faces] = True
        ends = np.stack([touching.a[faces], touching.b[faces]], axis=1)
        loose = cls(
            _ranks(bricks, mobile), np.arange(len(bricks)), ends, touching.axes[faces, 2], closed, bricks.centre
        )
        return loose.joined(np.stack([touching.a[pressed], touching.b[pressed]], axis=1))

    def joined(self, pairs: np.ndarray) -> "Ties":
        """The same with pairs of bricks (P, 2) that go as one from now on."""
        rank, number = self.rank, np.arange(len(self.rank))
        root = _carriers(np.concatenate([pairs, np.stack([number, self.root], axis=1)]), rank)
        ends = root[self.on]
        ends = np.where((rank[ends[:, 0]] < rank[ends[:, 1]])[:, None], ends, ends[:, ::-1])
        order = _in_order(ends, rank)
        return replace(self, root=root, on=ends[order], normal=self.normal[order])

    def grown(self, before: "Ties") -> np.ndarray:
        """Which bricks (N,) go as one with more others than before."""
        now, then = (np.bincount(ties.root, minlength=len(ties.root))[ties.root] for ties in (self, before))
        return now > then

    def __bool__(self) -> bool:
        return bool(len(self.on) or (self.root != np.arange(len(self.root))).any())

    def __len__(self) -> int:
        return len(self.rank)

    def carried(self, touching: Contacts) -> Contacts:
        """The same contacts, between the bricks that carry theirs."""
        return replace(touching, a=self.root[touching.a], b=self.root[touching.b]) if self else touching

    def merged(self, goal: Targets, crowded: np.ndarray) -> Targets:
        """Targets of which the carrying bricks' speak for all that they carry: what these want on average. Those
        `crowded` (N,) keep to their lean and stay there."""
        if not self:
            return goal
        root, carried = self.root, self.root != np.arange(len(self.root))
        number = np.bincount(root, minlength=len(root)).astype(float)
        moves = goal.mobility[0] > 0
        arm = rigid.length(self.about - self.about[root])
        inertia = np.where(moves, 1.0 / np.where(moves, goal.mobility[1], 1.0), 0.0)
        whole = np.maximum(np.bincount(root, inertia + arm * arm, len(root)), 1e-9)
        weight = np.concatenate([np.tile(1.0 / number[root, None], 3), np.tile((inertia / whole[root])[:, None], 3)], 1)
        several = (number > 1) & moves

        def averaged(values: np.ndarray) -> np.ndarray:
            return np.where(several[:, None], _summed(weight * values, root), values)

        mobility = goal.mobility.copy()
        mobility[:, several] = 1.0 / np.stack([number, whole])[:, several]
        mobility[:, carried | crowded] = 0.0
        wanted = averaged(np.where(crowded[root, None], goal.lean, goal.wanted))
        return replace(goal, wanted=wanted, least=averaged(goal.least), most=averaged(goal.most),
                       mobility=mobility)  # fmt: skip

    def gathered(self, motions: np.ndarray) -> np.ndarray:
        """Motions (N, 6) of which a carrying brick's is the rigid one that all that it carries come to on average."""
        if not self:
            return motions
        root, number = self.root, np.bincount(self.root, minlength=len(self.root))[:, None]

        def averaged(values: np.ndarray) -> np.ndarray:
            return (_summed(values, root) / np.maximum(number, 1))[root]

        turn = averaged(motions[:, 3:])
        swung = rigid.turned(rigid.rotation(turn) - np.eye(3), self.about - self.about[root])
        both = np.concatenate([averaged(motions[:, :3] - swung), turn], axis=1)
        return np.where(number[root] > 1, both, motions)

    def kept(self, motions: np.ndarray, mobile: np.ndarray) -> np.ndarray:
        """Motions (N, 6) of which mobile bricks (N,) go as those that they are tied to let them."""
        if not self:
            return motions
        motions = motions.copy()
        for ties in self._outward:
            ties = ties[mobile[self.on[ties, 1]]]
            motions[self.on[ties, 1]] = self._along(motions, ties)
        carried = np.flatnonzero((self.root != np.arange(len(self.root))) & mobile)
        root = self.root[carried]
        turn = rigid.rotation(motions[root, 3:]) - np.eye(3)
        motions[carried, :3] = motions[root, :3] + rigid.turned(turn, self.about[carried] - self.about[root])
        motions[carried, 3:] = motions[root, 3:]
        return motions

    @cached_property
    def _outward(self) -> list[np.ndarray]:
        """The ties that are kept together, of some none on what another of them moves."""
        return _outward(self.on, len(self.rank))

    def _along(self, motions: np.ndarray, ties: np.ndarray) -> np.ndarray:
        """The motions (T, 6) nearest to those of the second bricks of some ties that keep their faces in the first."""
        (first, second), normal = self.on[ties].T, self.normal[ties]
        one, other, arm = motions[first], motions[second], self.about[second] - self.about[first]
        turn, own = rigid.rotation(one[:, 3:]), rigid.rotation(other[:, 3:])
        back = rigid.transpose(turn)
        seen = rigid.rotation_vector(rigid.product(back, own))
        seen = rigid.rotation(normal * rigid.dot(normal, seen)[:, None])
        away = rigid.turned(back, arm + other[:, :3] - one[:, :3]) - arm
        away = away - normal * rigid.dot(normal, away)[:, None]
        shift = one[:, :3] + rigid.turned(turn, arm + away) - arm
        return np.concatenate([shift, rigid.rotation_vector(rigid.product(turn, seen))], axis=1)


def stiff(touching: Contacts, play_mm: float, lift_mm: float) -> np.ndarray:
    """Pairs of bricks (P, 2) that a joint holds which leaves them no way at all."""
    joint = (touching.kind == JOINT) & (max(play_mm, lift_mm) < _STIFF_MM)
    return np.stack([touching.a[joint], touching.b[joint]], axis=1)


def _ranks(bricks: Bricks, mobile: np.ndarray) -> np.ndarray:
    rank = np.empty(len(bricks), dtype=np.int64)
    volume = np.rint(bricks.half_in_part.prod(axis=1) * 1e3)
    rank[np.lexsort((bricks.key, -volume, mobile))] = np.arange(len(bricks))
    return rank


def _carriers(pairs: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """(N,) of what hangs together by pairs (P, 2) the brick of the least rank."""
    group = connected(len(rank), *pairs.T)
    order = np.argsort(rank)
    _, first = np.unique(group[order], return_index=True)
    return order[first][group]


def _closed(bricks: Bricks, touching: Contacts) -> list[list[int]]:
    """For each two bricks that lie between each other's faces without play the contacts there, one a direction. Bodies
    of one piece never lie so."""
    tight = (touching.kind <= SIDE) & (touching.gap < NO_PLAY_MM)
    tight &= ~(bricks.plain[touching.a] & bricks.plain[touching.b])
    between: dict[tuple[int, int], list[tuple[int, float, np.ndarray]]] = {}
    for row in np.flatnonzero(tight).tolist():
        a, b, way = int(touching.a[row]), int(touching.b[row]), touching.frames[touching.frame[row], 2]
        told = row, max(float(touching.gap[row]), 0.0), way if a < b else -way
        between.setdefault((min(a, b), max(a, b)), []).append(told)
    return [found for faces in between.values() if (found := _opposite(faces))]


def _opposite(faces: list[tuple[int, float, np.ndarray]]) -> list[int]:
    found: dict[int, np.ndarray] = {}
    for row, gap, way in faces:
        across = all(abs(way @ other) < -_OPPOSITE for other in found.values())
        if across and any(way @ back < _OPPOSITE and gap + more < NO_PLAY_MM for _, more, back in faces):
            found[row] = way
    return list(found)


def _outward(ends: np.ndarray, bricks: int) -> list[np.ndarray]:
    """Ties (C, 2) in their order, those together of which none carries the first brick of another."""
    behind, steps = np.zeros(bricks, dtype=np.int64), np.empty(len(ends), dtype=np.int64)
    for n, (first, second) in enumerate(ends.tolist()):
        steps[n] = behind[first]
        behind[second] = behind[first] + 1
    return [np.flatnonzero(steps == step) for step in range(steps.max(initial=-1) + 1)]


def _summed(values: np.ndarray, root: np.ndarray) -> np.ndarray:
    """Of values (N, W) the sums over all that a brick carries, at that brick."""
    return np.stack([np.bincount(root, each, len(root)) for each in values.T], axis=1)


def _in_order(ends: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """The order in which ties (C, 2) are kept, none before what carries its first brick; of several that a brick would
    slide on, one."""
    order, reached = [], set()
    for n in np.lexsort((rank[ends[:, 1]], rank[ends[:, 0]])).tolist():
        if int(ends[n, 1]) not in reached and ends[n, 0] != ends[n, 1]:
            reached.add(int(ends[n, 1]))
            order.append(n)
    return np.array(order, dtype=np.int64)
