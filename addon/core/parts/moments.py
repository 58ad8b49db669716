"""What the surface of a mesh measures, whatever the order, number and fineness of its faces, and whatever its axes."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .. import rigid

_NOISE_MM = 0.02  # two copies of one part differ by no more
_SIDES = 0.004  # of the size: what 16 sides in place of 24 do to it is 0.0024
_LOOSE_MM = 0.02
# Points and weights by which polynomials of the third degree are summed over a triangle exactly: Strang, Fix: An
# Analysis of the Finite Element Method, 1973, table 4.1.
_CORNERS = np.array([[1 / 3, 1 / 3, 1 / 3], [0.6, 0.2, 0.2], [0.2, 0.6, 0.2], [0.2, 0.2, 0.6]])
_WEIGHTS = np.array([-27 / 48, 25 / 48, 25 / 48, 25 / 48])


@dataclass(frozen=True)
class Moments:
    """Of N surfaces, all in millimetres."""

    middle: np.ndarray  # (N, 3)
    size: np.ndarray  # (N,) the root of the area
    spread: np.ndarray  # (N, 3, 3) second moments about the middle, by size
    skew: np.ndarray  # (N, 3) third ones, by size squared: which way it is lopsided

    @classmethod
    def of(cls, vertices: np.ndarray, triangles: np.ndarray) -> "Moments":
        """Of one mesh, vertices (V, 3) in mm and triangles (T, 3)."""
        corners = vertices[triangles]
        points = np.einsum("kc,tci->tki", _CORNERS, corners).reshape(-1, 3)
        cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = 0.5 * np.linalg.norm(cross, axis=1)
        total = max(float(area.sum()), 1e-12)
        weight = (area[:, None] * _WEIGHTS).ravel() / total
        middle, size = weight @ points, np.sqrt(total)
        arm = points - middle
        spread = np.einsum("p,pi,pj->ij", weight, arm, arm) / size
        skew = (weight * (arm * arm).sum(axis=1)) @ arm / total
        return cls(middle[None], np.array([size]), spread[None], skew[None])

    @classmethod
    def joined(cls, several: list["Moments"]) -> "Moments":
        return cls(*(np.concatenate([getattr(each, name) for each in several]) for name in cls.__dataclass_fields__))

    def __len__(self) -> int:
        return len(self.size)

    def only(self, rows: np.ndarray) -> "Moments":
        return Moments(self.middle[rows], self.size[rows], self.spread[rows], self.skew[rows])

    def placed(self, turn: np.ndarray, shift: np.ndarray) -> "Moments":
        """After turns (N, 3, 3), or mirrorings, and then shifts (N, 3)."""
        spread = rigid.product(rigid.product(turn, self.spread), rigid.transpose(turn))
        return Moments(rigid.turned(turn, self.middle) + shift, self.size, spread, rigid.turned(turn, self.skew))

    def standing(self, turn: np.ndarray, middle: np.ndarray) -> "Moments":
        """After turns (N, 3, 3) about their own middles, which lie at others (N, 3) then."""
        placed = self.placed(turn, np.zeros((len(self), 3)))
        return replace(placed, middle=middle)

    def turned(self, turn: np.ndarray) -> "Moments":
        """All turned alike (3, 3) about the origin."""
        return self.placed(np.broadcast_to(turn, (len(self), 3, 3)), np.zeros((len(self), 3)))

    @property
    def upright(self) -> "Moments":
        """The same for shapes that differ by a turn about the upright axis."""
        around = np.hypot(self.skew[:, 0], self.skew[:, 1])
        skew = np.stack([around, 0 * around, self.skew[:, 2]], axis=1)
        mean = 0.5 * (self.spread[:, 0, 0] + self.spread[:, 1, 1])
        apart = np.hypot(0.5 * (self.spread[:, 0, 0] - self.spread[:, 1, 1]), self.spread[:, 0, 1])
        spread = np.zeros_like(self.spread)
        spread[:, 0, 0], spread[:, 1, 1], spread[:, 2, 2] = mean + apart, mean - apart, self.spread[:, 2, 2]
        spread[:, 0, 2] = np.hypot(self.spread[:, 0, 2], self.spread[:, 1, 2])
        return Moments(self.middle, self.size, spread, skew)

    def is_like(self, other: "Moments") -> np.ndarray:
        """(N,) whether each is of the other's shape and stands as it does."""
        return np.abs(self._table - other._table).max(axis=1) <= _LOOSE_MM + _SIDES * self.size

    def grouped(self) -> tuple[np.ndarray, np.ndarray]:
        """A number (N,) for those that are copies of each other, and the first (K,) of each number."""
        table = self._table
        _, first, number = np.unique(np.rint(table / 1e-3), axis=0, return_index=True, return_inverse=True)
        order = np.argsort(first, kind="stable")
        leads: list[int] = []
        group = np.empty(len(first), dtype=np.int64)
        standing = np.empty((len(first), table.shape[1]))
        for n in order.tolist():
            row = table[first[n]]
            far = np.abs(standing[: len(leads)] - row).max(axis=1)
            found = int(far.argmin()) if len(far) else -1
            if found < 0 or far[found] > _NOISE_MM:
                standing[len(leads)] = row
                leads.append(int(first[n]))
        for n, row in enumerate(table[first]):
            group[n] = np.abs(standing[: len(leads)] - row).max(axis=1).argmin()
        return group[number.reshape(-1)], np.array(leads, dtype=np.int64)

    def nearest(self, others: "Moments") -> np.ndarray:
        """Of some others the one (N,) that each is most like, -1 where it is like none."""
        found, theirs = np.full(len(self), -1), others._table
        for n, row in enumerate(self._table if len(others) else ()):
            far = np.abs(theirs - row).max(axis=1)
            nearest = int(far.argmin())
            if far[nearest] <= _LOOSE_MM + _SIDES * self.size[n]:
                found[n] = nearest
        return found

    @cached_property
    def _table(self) -> np.ndarray:
        """(N, 10) all of it but the place."""
        pairs = self.spread[:, (0, 1, 2, 0, 0, 1), (0, 1, 2, 1, 2, 2)]
        return np.concatenate([self.size[:, None], pairs, self.skew], axis=1)
