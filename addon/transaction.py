"""A job as a transaction: what it changed comes back where it does not come to its end, and what it left lying goes.

Whoever writes says first how its place is brought back. Outside of a transaction nobody asks.
"""

from collections.abc import Callable, Hashable, Iterator
from contextlib import ExitStack, contextmanager

Back = Callable[[], None]


class _Journal:
    def __init__(self) -> None:
        self.backs: list[Back] = []
        self.sweeps: dict[Callable[[], None], None] = {}
        self.start = 0  # of the innermost transaction
        self.kept: dict[Hashable, int] = {}  # where among the backs places are that say which they are

    def take_back(self, start: int) -> None:
        while len(self.backs) > start:
            self.backs.pop()()
        self.kept = {of: n for of, n in self.kept.items() if n < start}

    def sweep(self) -> None:
        """Runs all sweeps, the others too where one is interrupted."""
        with ExitStack() as ends:
            for sweep in reversed(self.sweeps):
                ends.callback(_ended, sweep)


_open: _Journal | None = None

heard: list[Callable[[], None]] = []  # called whenever a job has changed something and is through


@contextmanager
def transaction() -> Iterator[None]:
    """When the body raises, everything that was kept within comes back, the last first. One within another is part of
    it once it is through."""
    global _open
    outer, journal = _open, _open or _Journal()
    before, start = journal.start, len(journal.backs)
    _open, journal.start = journal, start
    try:
        yield
    except BaseException:
        _open = None
        journal.take_back(start)
        raise
    finally:
        _open, journal.start = outer, before
        if outer is None:
            journal.sweep()
    if outer is None and journal.backs:
        for hear in heard:
            hear()


def _ended(sweep: Callable[[], None]) -> None:
    """Runs a sweep; once more where it was interrupted."""
    try:
        sweep()
    except BaseException:
        sweep()
        raise


def keep(look: Callable[[], Back], of: Hashable = None) -> None:
    """To be called before a write: `look` sees how things are and gives what brings them back. Where it says `of` which
    place, the first look within the innermost transaction is enough."""
    if _open is None or (of is not None and _open.kept.get(of, -1) >= _open.start):
        return
    if of is not None:
        _open.kept[of] = len(_open.backs)
    _open.backs.append(look())


def at_end(sweep: Callable[[], None]) -> None:
    """Runs a sweep once a transaction is over, however it ends; at once where there is none.

    What is swept must be needed by nothing that could come back.
    """
    if _open is None:
        sweep()
    else:
        _open.sweeps[sweep] = None
