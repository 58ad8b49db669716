"""Which brick of a build's new version is which of the old one.

bricks of one shape ─▶ offsets vote ─▶ neighbours decide between offsets ─▶ one brick for one ─▶ single ones by hand

Nothing is asked of names, meshes, axes or origins: the new version may stand elsewhere, be turned about the upright
axis, and have its parts written otherwise. Stacks of equal plates repeat, so that a brick alone tells nothing: of the
offsets that fit it, it goes with its neighbours.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np

from ..counts import evenly
from ..near import near_pairs
from ..parts.moments import Moments
from .identity import chained

NEAR_MM = 0.06  # noise of an export, on both sides, and what another number of sides does to a middle
_CELL_MM = 0.5
_CROWD = 3  # bricks whose middles lie in one cell, as of a pin in a hole
_BESIDE_MM = 4.0  # bricks this close are neighbours
_LEAST = 5  # bricks that go together are a section
_MOST_OFFSETS = 8
_TRIED = 16  # offsets that most bricks vote for, looked at brick by brick
_VOTE_MM = 0.2  # offsets this close are one
_VOTES = 300_000  # pairs that vote; more tell nothing new
_SAME_COLOUR = 0.8  # of a vote more
_SURE = 0.9 * (1.0 + _SAME_COLOUR)  # of all votes: no other turn can have more
_NEIGHBOURS = 3.0  # how much all neighbours together weigh beside a brick's own fit
_ROUNDS = 12
_FAR_MM = 40.0  # a single brick is not looked for farther away where others are like it
_SNAP_MM, _SNAPPED_MM = 0.1, 0.03  # ways in CAD are round numbers

_SINES = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))
QUARTERS = tuple(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) for c, s in _SINES)


@dataclass(frozen=True)
class Version:
    """N bricks of one version, in its own frame: millimetres, z up."""

    moments: Moments  # (N) as they stand
    colour: np.ndarray  # (N,) whole numbers, the same in both versions for one colour
    low: np.ndarray  # (N, 3) corners of the boxes around them
    high: np.ndarray

    def __len__(self) -> int:
        return len(self.colour)

    def only(self, rows: np.ndarray) -> "Version":
        return Version(self.moments.only(rows), self.colour[rows], self.low[rows], self.high[rows])

    @property
    def place(self) -> np.ndarray:
        return self.moments.middle


@dataclass(frozen=True)
class Matching:
    """A point p of the old version's frame lies at turn @ p + shift in that of the new one."""

    turn: np.ndarray  # (3, 3) a quarter turn about the upright axis
    shift: np.ndarray  # (3,) mm
    partner: np.ndarray  # (A,) the new brick that each old one is, -1 where it is gone
    way: np.ndarray  # (A, 3) mm that each went in the old frame, exactly 0 where it stayed
    turned: np.ndarray  # (A,) quarter turns about its own middle
    section: np.ndarray  # (A,) which of the ways it went with others, 0 for those that stayed, -1 for none
    old_kind: np.ndarray  # (A,) equal for bricks of one shape that stand alike,
    new_kind: np.ndarray  # (B,) in both versions

    @property
    def added(self) -> np.ndarray:
        """New bricks that no old one is."""
        return np.setdiff1d(np.arange(len(self.new_kind)), self.partner)

    def back(self, moments: Moments) -> Moments:
        """New bricks as they stand in the old version's frame."""
        turn = np.broadcast_to(self.turn.T, (len(moments), 3, 3))
        return moments.placed(turn, -self.turn.T @ self.shift)

    @property
    def removed(self) -> np.ndarray:
        return np.flatnonzero(self.partner < 0)


def match(old: Version, new: Version) -> Matching:
    """Which brick is which; both versions hold at least one brick."""
    best = _Turned(old, new, 0)
    for number in (1, 2, 3) if best.score < _SURE * len(old) else ():
        best = max(best, _Turned(old, new, number), key=lambda each: (each.score, -each.number))
    return best.matching()


class _Turned:
    """The old version turned by quarters about the upright axis, as it lies on the new one by its best offset."""

    def __init__(self, old: Version, new: Version, number: int):
        self.number, self.turn, self.untouched = number, QUARTERS[number], old
        self.old, self.new = replace(old, moments=old.moments.turned(self.turn)), new
        self.a, self.b = _kinds(self.old.moments, new.moments)
        self.where = Where(new.moments)
        self.best, self.score = self._best(np.ones(len(old), dtype=bool))

    @cached_property
    def ground(self) -> np.ndarray:
        """(A,) what the old version stands on."""
        low = self.untouched.low[:, 2]
        return low < low.min() + 0.5

    def matching(self) -> Matching:
        offsets, fits = self._offsets()
        partner, chosen = self._assigned(fits) if len(offsets) else self._none()
        base = self._base(chosen, len(offsets))
        shift = offsets[base] if len(offsets) else np.zeros(3)
        ways = np.array([snapped(self.turn.T @ (each - shift)) for each in offsets]).reshape(-1, 3)
        way, section = np.zeros((len(partner), 3)), np.full(len(partner), -1)
        found = partner >= 0
        way[found] = ways[chosen[found]]
        number = np.argsort(np.argsort([n != base for n in range(len(offsets))], kind="stable"), kind="stable")
        section[found] = number[chosen[found]]
        turned = np.zeros(len(partner), dtype=int)
        _find_singles(self, partner, way, turned, shift)
        return Matching(self.turn, shift, partner, way, turned, section, self.a, self.b)

    def _best(self, left: np.ndarray) -> tuple[np.ndarray, float]:
        """The offset by which most of the old bricks left (A,) lie on new ones, and how many these are."""
        best, most = np.zeros(3), -1.0
        left = np.flatnonzero(left)
        for offset in (np.zeros(3), *_voted(self.old, self.new, self.a, self.b, left)):
            partner = self.where.at(self.old.moments.only(left), offset)
            found = partner >= 0
            alike = self.old.colour[left][found] == self.new.colour[partner[found]]
            score = found.sum() + _SAME_COLOUR * alike.sum()
            if score > most:
                best, most = offset, float(score)
                if found.any():  # the middle of the noise
                    best = offset + np.median(
                        self.new.place[partner[found]] - self.old.place[left][found] - offset, axis=0
                    )
        return best, most

    def _offsets(self) -> tuple[np.ndarray, np.ndarray]:
        """Offsets (O, 3) by which bricks went, most together first, and the new brick (O, A) that is there by each."""
        offsets, fits = [], []
        left, best, score = np.ones(len(self.old), dtype=bool), self.best, self.score
        while score > 0 and len(offsets) < _MOST_OFFSETS:
            there = self.where.at(self.old.moments, best)
            if offsets and (there[left] >= 0).sum() < _LEAST:
                break
            offsets.append(best)
            fits.append(there)
            left &= there < 0
            if not left.any():
                break
            best, score = self._best(left)
        if offsets and (self.ground & left).sum() * 2 > self.ground.sum():  # however little stands on it
            offsets.append(self._best(self.ground)[0])
            fits.append(self.where.at(self.old.moments, offsets[-1]))
        return np.array(offsets).reshape(-1, 3), np.array(fits).reshape(-1, len(self.old))

    def _assigned(self, fits: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The new brick (A,) that each old one is, and by which offset; -1 for none."""
        score = self._scored(fits)
        partner, chosen = self._none()
        taken = np.zeros(len(self.new), dtype=bool)
        ranked = np.argsort(-score, axis=0, kind="stable")
        for n in np.argsort(-score.max(axis=0), kind="stable").tolist():
            for o in ranked[:, n].tolist():
                there = fits[o, n]
                if score[o, n] < 0.0:
                    break
                if not taken[there]:
                    taken[there], partner[n], chosen[n] = True, there, o
                    break
        return partner, chosen

    def _scored(self, fits: np.ndarray) -> np.ndarray:
        """How well (O, A) each offset fits each brick, by its colour and by what its neighbours do; -1: not at all."""
        there = fits >= 0
        own = np.where(there, 1.0 + _SAME_COLOUR * (self.new.colour[fits] == self.old.colour), -1.0)
        if len(fits) == 1:
            return own
        a, b = near_pairs(self.untouched.low, self.untouched.high, _BESIDE_MM).T
        label = np.where(there.sum(axis=0) == 1, own.argmax(axis=0), -1)  # what is told without others speaks first
        vote = score = own
        for _ in range(_ROUNDS):
            vote = np.zeros(fits.shape)
            for near, far in ((a, b), (b, a)):
                said = label[far] >= 0
                np.add.at(vote, (label[far[said]], near[said]), 1.0)
            count = vote.sum(axis=0)
            score = np.where(there, own + _NEIGHBOURS * vote / np.maximum(count, 1.0), -1.0)
            told = there.any(axis=0) & ((count > 0) | (label >= 0))
            after = np.where(told, score.argmax(axis=0), -1)
            if (after == label).all():
                break
            label = after
        alone = (vote == 0.0) & (np.arange(len(fits)) > 0)[:, None] & ~self.ground
        return np.where(alone, -1.0, score)

    def _none(self) -> tuple[np.ndarray, np.ndarray]:
        return np.full(len(self.old), -1), np.full(len(self.old), -1)

    def _base(self, chosen: np.ndarray, count: int) -> int:
        """The offset of what stands on the ground, so that the build stays where it stands; else the commonest."""
        ground = chosen[self.ground & (chosen >= 0)]
        standing = ground if len(ground) else chosen[chosen >= 0]
        return int(np.bincount(standing, minlength=max(count, 1)).argmax())


def _find_singles(it: _Turned, partner: np.ndarray, way: np.ndarray, turned: np.ndarray, shift: np.ndarray) -> None:
    """Finds bricks that went alone, perhaps turned: the only one of a part and colour, or the nearest."""
    gone, free = np.flatnonzero(partner < 0), np.setdiff1d(np.arange(len(it.new)), partner)
    if not len(gone) or not len(free):
        return
    a, b = _kinds(it.old.moments.only(gone).upright, it.new.moments.only(free).upright)
    place = it.old.place[gone] + shift
    for kind in np.intersect1d(a, b):
        here, there = gone[a == kind], free[b == kind]
        alike = it.old.colour[here][:, None] == it.new.colour[there]
        far = np.linalg.norm(place[a == kind][:, None] - it.new.place[there], axis=2)
        far = np.where(alike, far, np.inf)
        for n, row in enumerate(far):
            m = int(row.argmin())
            only = np.isfinite(row).sum() == 1 == np.isfinite(far[:, m]).sum()
            mutual = far[:, m].argmin() == n and row[m] <= _FAR_MM
            way_round = _quarter(it, here[n], there[m]) if only or mutual else None
            if np.isfinite(row[m]) and way_round is not None:
                partner[here[n]], turned[here[n]] = there[m], way_round
                went = it.new.place[there[m]] - place[a == kind][n]
                way[here[n]] = snapped(it.turn.T @ went)


def _quarter(it: _Turned, old: int, new: int) -> int | None:
    """By how many quarters a brick has turned about the upright axis to lie as another; None for none."""
    one, other = it.old.moments.only(np.array([old])), it.new.moments.only(np.array([new]))
    return next((n for n, turn in enumerate(QUARTERS) if one.turned(turn).is_like(other)[0]), None)


class Where:
    """New bricks by where they stand."""

    def __init__(self, moments: Moments):
        self.moments = moments
        words = self._words(moments.middle)
        self.order = np.argsort(words, kind="stable")
        self.words = np.append(words[self.order], np.repeat(words[self.order[-1:]], _CROWD))
        self.order = np.append(self.order, np.repeat(self.order[-1:], _CROWD))

    def at(self, wanted: Moments, way: np.ndarray) -> np.ndarray:
        """The brick (N,) like each one wanted where that stands after a way (3,), -1 for none."""
        place, found = wanted.middle + way, np.full(len(wanted), -1)
        for corner in product((-NEAR_MM, NEAR_MM), repeat=3):
            left = np.flatnonzero(found < 0)
            words = self._words(place[left] + np.array(corner))
            first = np.searchsorted(self.words[:-_CROWD], words)
            for n in range(_CROWD):
                there = self.order[first + n]
                near = np.abs(self.moments.middle[there] - place[left]).max(axis=1) <= NEAR_MM
                hit = np.flatnonzero((self.words[first + n] == words) & near & (found[left] < 0))
                hit = hit[wanted.only(left[hit]).is_like(self.moments.only(there[hit]))]
                found[left[hit]] = there[hit]
        return found

    @staticmethod
    def _words(place: np.ndarray) -> np.ndarray:
        return chained(np.floor(place / _CELL_MM).astype(np.int64))


def _kinds(old: Moments, new: Moments) -> tuple[np.ndarray, np.ndarray]:
    """Numbers (A,) and (B,) for bricks of one shape that stand alike."""
    of_old, lead_old = old.grouped()
    of_new, lead_new = new.grouped()
    own = new.only(lead_new).nearest(old.only(lead_old))
    return of_old, np.where(own >= 0, own, len(lead_old) + np.arange(len(own)))[of_new]


def _voted(old: Version, new: Version, a: np.ndarray, b: np.ndarray, left: np.ndarray) -> np.ndarray:
    """Offsets (V, 3) that most pairs of bricks of one kind have, those of one colour more than others."""
    kinds = np.intersect1d(a[left], b)
    here, there = _by_number(a[left], kinds, left), _by_number(b, kinds, np.arange(len(b)))
    ways, weights, room = [], [], _VOTES
    for n in sorted(range(len(kinds)), key=lambda n: len(here[n]) * len(there[n])):  # what is rare tells most
        share = max(1, min(len(here[n]), room // ((len(kinds) - len(ways)) * len(there[n]))))
        some = here[n][evenly(len(here[n]), share)]
        ways.append((new.place[there[n]][None] - old.place[some][:, None]).reshape(-1, 3))
        weights.append(1.0 + _SAME_COLOUR * (new.colour[there[n]][None] == old.colour[some][:, None]).ravel())
        room = max(room - len(ways[-1]), 1)
    if not ways:
        return np.zeros((0, 3))
    way, weight = np.concatenate(ways), np.concatenate(weights)
    cell = chained(np.floor(way / _VOTE_MM + 0.31).astype(np.int64))
    _, first, number = np.unique(cell, return_index=True, return_inverse=True)
    votes = np.bincount(number.reshape(-1), weight)
    return way[first[np.argsort(-votes, kind="stable")[:_TRIED]]]


def _by_number(number: np.ndarray, wanted: np.ndarray, rows: np.ndarray) -> list[np.ndarray]:
    """The rows (N,) that have each of the numbers wanted."""
    order = np.argsort(number, kind="stable")
    first, last = (np.searchsorted(number[order], wanted, side) for side in ("left", "right"))
    return [rows[order[i:j]] for i, j in zip(first.tolist(), last.tolist(), strict=True)]


def snapped(way: np.ndarray) -> np.ndarray:
    """A way (3,) in the tenths of a millimetre that CAD was told, without an export's noise."""
    round_ = np.rint(way / _SNAP_MM) * _SNAP_MM
    return np.where(np.abs(way - round_) < _SNAPPED_MM, np.round(round_, 6), way) + 0.0
