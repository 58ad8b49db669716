"""Which meshes are one part: whatever the order of their vertices, the noise of an export, and the turn it baked in.

Two shapes are one when a rotation and a shift bring one onto the other; mirror images are two parts.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import permutations, product

import numpy as np

from ..build.identity import chained
from ..remembered import digest

NOISE_MM = 0.03  # along an axis: two copies that an export is 0.01 mm off from the truth, one each way, and rounding
_COPY_MM = 1e-3  # what single precision makes of one point
_TURNS_TRIED = 400


def _quarter_turns() -> np.ndarray:
    """The 24 rotations (24, 3, 3) that bring a cube onto itself, the identity first."""
    found = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[range(3), order] = signs
            if np.linalg.det(turn) > 0:
                found.append(turn)
    return np.array(found)


_QUARTERS = _quarter_turns()


@dataclass(frozen=True)
class Shape:
    """A mesh as it is compared: points (V, 3) in mm, the corner -> point of its faces, how many corners each face has,
    and a row of whole numbers a corner for what else tells parts apart: material, colour, place on a print."""

    points: np.ndarray
    corners: np.ndarray
    counts: np.ndarray
    tags: np.ndarray  # (corners, K)

    @cached_property
    def order(self) -> bytes:
        """Tells shapes apart whose faces name other vertices."""
        return digest(self.corners, self.counts, self.tags, np.array(len(self.points)))

    @cached_property
    def middle(self) -> np.ndarray:
        return self.points.mean(axis=0)

    @cached_property
    def places(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Distinct places (P, 3) around their mean, what is there (P,) in one word, and that mean."""
        number = np.zeros(len(self.points), dtype=np.int64)
        for axis in range(3):
            rank = _ranks(self.points[:, axis])
            number = number * (rank.max(initial=0) + 1) + rank
        _, place = np.unique(number, return_inverse=True)
        count = np.bincount(place)
        places = np.stack([np.bincount(place, self.points[:, axis]) for axis in range(3)], axis=1) / count[:, None]
        rows = _distinct(np.c_[place[self.corners], self.tags])
        word = np.zeros(len(count), dtype=np.uint64)
        with np.errstate(over="ignore"):
            np.add.at(word, rows[:, 0], chained(rows[:, 1:]))
        middle = places.mean(axis=0)
        return places - middle, word, middle


@dataclass(frozen=True)
class Match:
    """A shape is the `of`-th part, turned (3, 3) and shifted (3,)."""

    of: int
    turn: np.ndarray
    shift: np.ndarray

    def after(self, other: "Match") -> "Match":
        """How this shape lies beside another of the same part."""
        turn = self.turn @ other.turn.T
        return Match(self.of, turn, self.shift - turn @ other.shift)


class Parts:
    """The parts met so far."""

    def __init__(self) -> None:
        self._in_order: dict[bytes, list[int]] = defaultdict(list)
        self._in_places: dict[tuple, list[int]] = defaultdict(list)
        self._shapes: list[Shape] = []
        self._sorted: dict[int, tuple[np.ndarray, np.ndarray]] = {}

    def __len__(self) -> int:
        return len(self._shapes)

    def match(self, shape: Shape) -> Match:
        """The part that a shape is; a new one where it is none of those before."""
        found = self._by_order(shape) or self._by_places(shape)
        if found is None:
            found = Match(len(self._shapes), np.eye(3), np.zeros(3))
            self._shapes.append(shape)
            self._in_places[_census(shape)].append(found.of)
            self._in_order[shape.order].append(found.of)
        return found

    def is_copy(self, found: Match, shape: Shape) -> bool:
        """Whether a shape has its part's very points, in their order."""
        part = self._shapes[found.of].points
        return len(part) == len(shape.points) and bool(np.abs(part - shape.points).max(initial=0.0) < _COPY_MM)

    def _by_order(self, shape: Shape) -> Match | None:
        """Among parts whose faces name the same vertices: each vertex has its partner."""
        for number in self._in_order[shape.order]:
            part = self._shapes[number]
            own, theirs = shape.points - shape.middle, part.points - part.middle
            turn = np.eye(3)
            if np.abs(own - theirs).max(initial=0.0) > NOISE_MM:
                turn = _snapped(_turn_between(theirs, own))
                if np.abs(own - theirs @ turn.T).max() > NOISE_MM:
                    continue
            return Match(number, turn, shape.middle - turn @ part.middle)
        return None

    def _by_places(self, shape: Shape) -> Match | None:
        """Among parts with as many places and faces: by the quarter turns first, then by any."""
        candidates = self._in_places.get(_census(shape), ())
        if not candidates:
            return None
        places, word, middle = shape.places
        order = _order(places)
        for number in candidates:
            theirs = self._shapes[number].places
            turned, words = self._quarters(number)
            near = np.abs(turned - places[order]).max(axis=(1, 2)) <= NOISE_MM
            for n in np.flatnonzero(near & (words == word[order]).all(axis=1)):
                return Match(number, _QUARTERS[n], middle - _QUARTERS[n] @ theirs[2])
        for number in candidates:
            theirs = self._shapes[number].places
            if _radii_differ(places, theirs[0]):
                continue
            for turn in _turns(theirs[0], places):
                if _covers(theirs[0] @ turn.T, theirs[1], places, word):
                    return Match(number, turn, middle - turn @ theirs[2])
        return None

    def _quarters(self, number: int) -> tuple[np.ndarray, np.ndarray]:
        if number not in self._sorted:
            places, word, _ = self._shapes[number].places
            turned = [places @ turn.T for turn in _QUARTERS]
            orders = [_order(each) for each in turned]
            self._sorted[number] = (
                np.stack([each[order] for each, order in zip(turned, orders, strict=True)]),
                np.stack([word[order] for order in orders]),
            )
        return self._sorted[number]


def _census(shape: Shape) -> tuple:
    """What shapes must have alike, whatever their order."""
    triangles = int((shape.counts - 2).sum())
    _, word, _ = shape.places
    return len(word), triangles, int(np.bitwise_xor.reduce(word)) if len(word) else 0


def _distinct(rows: np.ndarray) -> np.ndarray:
    """Each of rows (N, K) once: several times as fast as numpy's own, which compares rows byte by byte."""
    rows = rows[np.lexsort(rows.T)]
    return rows[np.append(True, (rows[1:] != rows[:-1]).any(axis=1))[: len(rows)]]


def _ranks(values: np.ndarray) -> np.ndarray:
    """The place of each value in the row of distinct ones; values less than noise apart share it."""
    order = np.argsort(values, kind="stable")
    ranks = np.empty(len(values), dtype=np.int64)
    ranks[order] = np.cumsum(np.diff(values[order], prepend=values[order][:1]) > NOISE_MM)
    return ranks


def _order(places: np.ndarray) -> np.ndarray:
    return np.lexsort([_ranks(places[:, axis]) for axis in (2, 1, 0)])


def _turn_between(source: np.ndarray, goal: np.ndarray) -> np.ndarray:
    """The rotation that brings points onto their partners by least squares: Kabsch, Acta Cryst. A32, 922 (1976)."""
    left, _, right = np.linalg.svd(goal.T @ source)
    flip = np.sign(np.linalg.det(left @ right))
    return left @ np.diag([1.0, 1.0, flip]) @ right


def _snapped(turn: np.ndarray) -> np.ndarray:
    """A quarter turn where it is one but for noise."""
    near = np.abs(_QUARTERS - turn).max(axis=(1, 2))
    return _QUARTERS[near.argmin()] if near.min() < 2e-3 else turn


def _radii_differ(one: np.ndarray, other: np.ndarray) -> bool:
    radii = [np.sort(np.linalg.norm(each, axis=1)) for each in (one, other)]
    return bool(np.abs(radii[0] - radii[1]).max() > 2 * NOISE_MM)


def _turns(source: np.ndarray, goal: np.ndarray) -> Iterator[np.ndarray]:
    """Rotations that bring two telling points of the source onto points of the goal as far out and as far apart."""
    radius, far = np.linalg.norm(source, axis=1), np.linalg.norm(goal, axis=1)
    first = int(radius.argmax())
    away = np.linalg.norm(np.cross(source, source[first] / max(radius[first], 1e-30)), axis=1)
    second = int(away.argmax())
    gap = np.linalg.norm(source[first] - source[second])
    near = 3 * NOISE_MM
    tried = 0
    for a in np.flatnonzero(np.abs(far - radius[first]) <= near):
        apart = np.abs(np.linalg.norm(goal - goal[a], axis=1) - gap) <= near
        for b in np.flatnonzero(apart & (np.abs(far - radius[second]) <= near)):
            tried += 1
            if tried > _TURNS_TRIED:
                return
            yield _turn_between(source[[first, second]], goal[[a, b]])


def _covers(moved: np.ndarray, words: np.ndarray, places: np.ndarray, word: np.ndarray) -> bool:
    """Whether every moved place lies on a place of its own where the same is."""
    step = max(1, len(moved) // 24)
    if _nearest(moved[::step], places)[1].max() > 3 * NOISE_MM:
        return False
    partner, far = _nearest(moved, places)
    return bool(far.max() <= 3 * NOISE_MM and len(np.unique(partner)) == len(places) and (word[partner] == words).all())


def _nearest(points: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    far = np.linalg.norm(points[:, None] - places[None], axis=2)
    return far.argmin(axis=1), far.min(axis=1)
