"""Work in slices of time, for a window that has to live meanwhile: between two slices it rests.

What knows of its slices asks whether one `is_over`, and yields. What does not is `sliced`: it runs in a thread of its
own while the one that asks waits, so the two take turns; only work that touches nothing of Blender's may be. What
either comes to is the same. Nothing rests unless somebody asks for it by `slicing`.
"""

import logging
import queue
import sys
import threading
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import _base, thread
from contextlib import contextmanager
from threading import Semaphore, Thread
from time import monotonic
from types import FrameType
from typing import Any, Generic, TypeVar

SLICE_S, _LEAST_S = 0.04, 0.01  # of what is sliced: as a rule, and where the turn ends before
_PATIENCE_S = 0.04  # for a call of numpy's that does not end with the slice: it goes on beside

# Code that holds locks which others may wait for: nothing rests within it, nor is given up before it has let them go.
_LOCKING = {module.__file__ for module in (logging, queue, threading, _base, thread)}
_LOCKING.add("<frozen importlib._bootstrap>")

Result, Told = TypeVar("Result"), TypeVar("Told")

_ends_at: float | None = None  # the turn that is under way


@contextmanager
def slicing(for_s: float = 0.0) -> Iterator[None]:
    """What is done within rests once a turn of so many seconds is over; without any, whenever it can."""
    global _ends_at
    before, _ends_at = _ends_at, monotonic() + for_s
    try:
        yield
    finally:
        _ends_at = before


def is_slicing() -> bool:
    """Whether somebody else has a turn between two parts of a work."""
    return _ends_at is not None


def is_over() -> bool:
    """Whether the turn is, and somebody else waits for his."""
    return _ends_at is not None and monotonic() >= _ends_at


def rest() -> Generator[None, None, None]:
    """Ends the turn: what the other has to do with what was done, he does before the work goes on."""
    global _ends_at
    if _ends_at is not None:
        _ends_at = monotonic()
        yield


def sliced(work: Callable[[], Result]) -> Generator[None, None, Result]:
    """Yields after each slice of the work and returns what it comes to. Closed before its end, the work is given up."""
    if _ends_at is None:
        return work()
    worker = _Worker(work)
    try:
        while not worker.is_done_after_a_slice():
            yield
        return worker.result()
    finally:
        worker.give_up()


class _GivenUp(BaseException):
    """Ends work that nobody waits for."""


class _Worker(Generic[Result]):
    def __init__(self, work: Callable[[], Result]) -> None:
        self._work, self._turn, self._rests = work, Semaphore(0), Semaphore(0)
        self._ends_at = 0.0
        self._is_at_work = self._is_done = self._is_given_up = False
        self._found: Any = None
        self._problem: BaseException | None = None
        Thread(target=self._run, daemon=True).start()

    def is_done_after_a_slice(self) -> bool:
        slice_s = min(SLICE_S, max(_LEAST_S, _left_s()))
        if not self._is_at_work:
            self._is_at_work, self._ends_at = True, monotonic() + slice_s
            self._turn.release()
        if self._rests.acquire(timeout=slice_s + _PATIENCE_S):
            self._is_at_work = False
        return self._is_done

    def result(self) -> Result:
        if self._problem is not None:
            raise self._problem
        return self._found

    def give_up(self) -> None:
        self._is_given_up = True
        self._turn.release()

    def _run(self) -> None:
        self._turn.acquire()
        sys.setprofile(self._look_up)
        try:
            if not self._is_given_up:
                self._found = self._work()
        except BaseException as problem:  # told to the one who waits
            self._problem = problem
        finally:
            sys.setprofile(None)
            self._is_done = True
            self._rests.release()

    def _look_up(self, frame: FrameType, event: str, _what: object) -> None:
        """At each call: rests where the slice is over."""
        is_over = self._is_given_up or monotonic() > self._ends_at
        if is_over and event in ("call", "c_call") and _may_rest(frame, event):
            if not self._is_given_up:
                self._rests.release()
                self._turn.acquire()
            if self._is_given_up:
                raise _GivenUp


def _may_rest(frame: FrameType | None, event: str) -> bool:
    """Whether the work stands within no call that others may wait for; before it begins and once it is done it may not
    either."""
    is_within = False
    if frame is not None and event == "call" and frame.f_code.co_name != "__exit__":
        frame, is_within = frame.f_back, True  # what is only entered holds nothing yet
    while frame is not None and frame.f_code is not _Worker._run.__code__:
        if frame.f_code.co_filename in _LOCKING:
            return False
        frame, is_within = frame.f_back, True
    return is_within


def _left_s() -> float:
    """Of the turn."""
    return 0.0 if _ends_at is None else _ends_at - monotonic()


def whole(parts: Generator[Any, None, Result]) -> Result:
    """What work in parts comes to, gone through in one go."""
    try:
        while True:
            next(parts)
    except StopIteration as end:
        return end.value


def telling(told: Told, parts: Generator[Any, None, Result]) -> Generator[Told, None, Result]:
    """The same work in parts, of which each says so."""
    try:
        while True:
            next(parts)
            yield told
    except StopIteration as end:
        return end.value
    finally:
        parts.close()
