"""A place near which layers are stronger or weaker: what an artist says of a sphere in the scene."""

from dataclasses import dataclass

import numpy as np

USUAL, WORN, CLEAN, MOST = 1.0, 3.0, 0.0, 10.0  # times what use brings all around


@dataclass(frozen=True)
class Place:
    """In its middle there is so many times of what use brings; at its rim as much as all around."""

    amount: float
    is_smooth: bool = True  # the way from the middle to the rim, else straight

    def times(self, away: np.ndarray) -> np.ndarray:
        """How many times of what use brings there is so far (...) from the middle, 1 at the rim."""
        inward = np.clip(1.0 - away, 0.0, 1.0)
        return 1.0 + (self.amount - 1.0) * (inward * inward * (3.0 - 2.0 * inward) if self.is_smooth else inward)
