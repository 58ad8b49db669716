"""Axis-aligned boxes of objects, and of their bodies, by which parts and the scale of a build are told."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Boxes:
    """Axis-aligned boxes of N objects in the file's own units; `body` leaves the studs out. All arrays (N, 3)."""

    low: np.ndarray
    high: np.ndarray
    body_low: np.ndarray
    body_high: np.ndarray

    @classmethod
    def of(cls, clouds: Iterable[np.ndarray]) -> "Boxes":
        """Boxes of vertex clouds, each (V, 3)."""
        rows = np.array([box(cloud) for cloud in clouds], dtype=float).reshape(-1, 4, 3)
        return cls(*np.moveaxis(rows, 1, 0))

    @property
    def size(self) -> np.ndarray:
        return self.high - self.low

    def __len__(self) -> int:
        return len(self.low)

    def __getitem__(self, chosen) -> "Boxes":
        return Boxes(self.low[chosen], self.high[chosen], self.body_low[chosen], self.body_high[chosen])


def box(points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Low and high corner of a vertex cloud (V, 3), then those of its body.

    Along each axis the body reaches as far as the vertices on the outside walls around that axis do; studs stand
    inside the walls.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    near = 1e-4 * (high - low).max()
    outside = (points - low <= near) | (high - points <= near)
    beside = outside.sum(axis=1, keepdims=True) > outside  # on the outside along another axis than this one
    walls = (points[beside[:, axis], axis] for axis in range(3))
    body = np.array([(wall.min(), wall.max()) for wall in walls])
    return low, high, body[:, 0], body[:, 1]
