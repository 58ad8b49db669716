"""All that is kept for the next call, in one place: bounded, and let go of when a file is loaded or the tool leaves.

What is the same for every file, such as drawn pictures, stays until the tool leaves.
"""

from collections.abc import Callable, Sized
from functools import lru_cache
from hashlib import blake2b
from typing import Any, TypeVar

import numpy as np

Result = TypeVar("Result", bound=Sized)
Work = TypeVar("Work", bound=Callable[..., Any])

_MOST = 1 << 19  # entries of a result worth keeping: beyond it the memory costs more than the time
_LAST = 2  # of each name: a build, and those of its bricks that speak for it
_NUMBERS = 1 << 17  # single numbers worth keeping

_kept: dict[str, dict[bytes, Sized]] = {}  # the one asked for last stands last
_numbers: dict[bytes, float] = {}
_caches: list[Any] = []  # functions that keep what they found
_of_session: list[Any] = []  # and such as found what is the same for every file
_others: list[Callable[[], None]] = []


def remembered(name: str, told: bytes, work: Callable[[], Result], last: int = _LAST) -> Result:
    """The result of `work`, which depends on nothing but what `told` tells apart; the `last` of a name are kept, none
    where nothing is told."""
    if not told:
        return work()
    of_name = _kept.setdefault(name, {})
    found = of_name.pop(told, None)
    result: Result = work() if found is None else found  # type: ignore[assignment]  # one name, one kind of result
    if len(result) <= _MOST:
        of_name[told] = result
        while len(of_name) > last:
            del of_name[next(iter(of_name))]
    return result


def recalled(name: str, told: bytes) -> Any:
    """The result kept under that name, None where it is of something else."""
    return _kept.get(name, {}).get(told)


def number(told: bytes, work: Callable[[], float]) -> float:
    """The same for a single number, of which many are kept: all of one read help the next."""
    found = _numbers.get(told)
    if found is None:
        if len(_numbers) >= _NUMBERS:
            _numbers.clear()
        found = _numbers[told] = work()
    return found


def keeping(most: int, of_session: bool = False) -> Callable[[Work], Work]:
    """Makes a function keep what it found for its last so many arguments, for the next file too where that is all the
    same to it."""

    def kept(work: Work) -> Work:
        cached = lru_cache(maxsize=most)(work)
        (_of_session if of_session else _caches).append(cached)
        return cached  # type: ignore[return-value]  # it is called as the function is

    return kept


def goes_too(work: Callable[[], None]) -> Callable[[], None]:
    """Has a function called whenever all is let go of."""
    _others.append(work)
    return work


def held() -> int:
    """How many results are kept."""
    return len(_numbers) + sum(map(len, _kept.values())) + sum(map(_size, _caches + _of_session))


def held_of_session() -> int:
    """Those of them that outlive a file."""
    return sum(map(_size, _of_session))


def forget() -> None:
    """Lets go of all of it."""
    forget_file()
    for cached in _of_session:
        cached.cache_clear()


def forget_file() -> None:
    """Lets go of what is of a file."""
    _kept.clear()
    _numbers.clear()
    for cached in _caches:
        cached.cache_clear()
    for work in _others:
        work()


def _size(cached: Any) -> int:
    return cached.cache_info().currsize


def digest(*arrays: np.ndarray) -> bytes:
    """Tells arrays apart by content and shape."""
    told = blake2b(digest_size=16)
    for each in arrays:
        told.update(f"{each.shape}{each.dtype.str}".encode())
        told.update(np.ascontiguousarray(each).data)
    return told.digest()
