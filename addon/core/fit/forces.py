"""The rows' multipliers, kept from one solve to the next: a warm start."""

import numpy as np

from .rows import OF_ROWS


class Forces:
    """Of K contacts those that have rows, and what these push with; none has yet, as long as it is idle."""

    def __init__(self, seated: np.ndarray):
        self._slot = np.full(len(seated), -1, dtype=np.int32)  # of each contact in the table, -1 while it is idle
        self._table = np.zeros((0, sum(OF_ROWS)), dtype=np.float32)
        self.wake(np.flatnonzero(seated))

    @property
    def awake(self) -> np.ndarray:
        """(K,) which contacts have rows."""
        return self._slot >= 0

    def wake(self, idle: np.ndarray) -> None:
        """Some more contacts have rows from now on, which do not push yet."""
        self._slot[idle] = len(self._table) + np.arange(len(idle))
        self._table = np.concatenate([self._table, np.zeros((len(idle), sum(OF_ROWS)), dtype=np.float32)])

    def __getitem__(self, chosen: np.ndarray) -> np.ndarray:
        """(C, 8) of the contacts chosen, all awake."""
        return self._table[self._slot[chosen]]

    def __setitem__(self, chosen: np.ndarray, forces: np.ndarray | float) -> None:
        self._table[self._slot[chosen]] = forces
