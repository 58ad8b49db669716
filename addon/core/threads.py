"""Parts of arrays worked on several at once: numpy lets threads calculate at the same time.

What a part comes to depends on the part alone, so the number of threads changes no bit of it.
"""

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import numpy as np

WORKERS = min(os.cpu_count() or 1, 4)  # more wait for the memory they share
CHUNK = 1 << 15  # numbers gone over together: with what is worked out of each a cache holds them
_ENOUGH = 4  # parts that are worth it: threads that make short calls wait for each other

Part, Found = TypeVar("Part"), TypeVar("Found")


def slices(number: int, most: int) -> list[slice]:
    """So many things in slices of at most `most`; one empty slice where there is none."""
    return [slice(start, min(start + most, number)) for start in range(0, max(number, 1), most)]


def each(work: Callable[[Part], Found], parts: Iterable[Part], enough: int = _ENOUGH) -> Iterator[Found]:
    """What the work finds in each part, in their order; fewer than `enough` are done by this thread alone."""
    parts = list(parts)
    if len(parts) < enough or WORKERS < 2:
        yield from map(work, parts)
        return
    with ThreadPoolExecutor(WORKERS) as crew:
        yield from crew.map(work, parts)


def joined(work: Callable[[slice], np.ndarray], number: int, most: int) -> np.ndarray:
    """What the work finds in each slice of at most `most` of so many things, one after another in one array."""
    return np.concatenate(list(each(work, slices(number, most))))
