"""How much work a fit may take, counted and not timed, so that the answer is the same on every machine."""

from math import inf


class Budget:
    """Sweeps over all contacts that hold a build together; a repair counts by its share of them. None: no end to it."""

    def __init__(self, sweeps: float | None = None):
        self._left = inf if sweeps is None else sweeps
        self.spent = False  # whether anything was asked for that it does not pay

    def granted(self, sweeps: int, share: float) -> int:
        """Those of some sweeps over a share of the contacts that it pays."""
        if sweeps * share <= self._left:
            self._left -= sweeps * share
            return sweeps
        granted, self._left, self.spent = int(self._left / share), 0.0, True
        return granted
