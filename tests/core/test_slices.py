"""Work in slices of time: what it comes to is the same, it rests between them, and it can be given up."""

import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from addon.core.slices import SLICE_S, is_over, is_slicing, sliced, slicing, whole


def _counted(seen: list[int], most: int = 1 << 40) -> int:
    total = 0
    for number in range(most):
        total += abs(number)
        seen.append(number)
    return total


def _gone_through(steps) -> tuple[int, object]:
    """How many slices there were, and what the work came to."""
    count = 0
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return count, end.value
        count += 1


def _ended(thread_count: int) -> bool:
    ends_at = time.monotonic() + 5.0
    while threading.active_count() > thread_count and time.monotonic() < ends_at:
        time.sleep(0.01)
    return threading.active_count() == thread_count


def test_work_that_nobody_slices_is_done_at_once_by_the_same_thread():
    steps = sliced(threading.current_thread)
    with pytest.raises(StopIteration) as end:
        next(steps)
    assert end.value.value is threading.current_thread()


def test_slices_come_to_the_same():
    most, seen = 300_000, []
    with slicing():
        count, found = _gone_through(sliced(lambda: _counted(seen, most)))
    assert found == most * (most - 1) // 2
    assert count > 1
    assert seen == list(range(most))


def test_work_rests_between_two_slices():
    seen: list[int] = []
    with slicing():
        steps = sliced(lambda: _counted(seen))
        next(steps)
        there = len(seen)
        time.sleep(5 * SLICE_S)
        assert len(seen) == there > 0
        next(steps)
        assert len(seen) > there
        steps.close()


def test_a_slice_is_short_though_the_work_calls_nothing_of_ours_for_long():
    with slicing():
        steps = sliced(lambda: time.sleep(1.0))
        begun = time.monotonic()
        next(steps)
        assert time.monotonic() - begun < 0.5
        whole(steps)


def test_work_that_is_given_up_ends_with_its_thread():
    count, seen, tidied = threading.active_count(), [], []

    def work():
        try:
            _counted(seen)
        finally:
            tidied.append(True)

    with slicing():
        steps = sliced(work)
        next(steps)
        steps.close()
    assert _ended(count)
    assert tidied == [True]


def test_nothing_rests_or_is_given_up_with_a_lock_that_others_wait_for():
    lock, waited = threading.Condition(), []

    def work():
        while True:
            with lock:
                pass

    def is_free() -> bool:
        return lock.acquire(timeout=1.0) and lock.release() is None

    count = threading.active_count()
    with slicing():
        steps = sliced(work)
        for _ in range(20):
            next(steps)
            waited.append(is_free())
        steps.close()
    assert _ended(count)
    assert [*waited, is_free()] == [True] * 21


def test_threads_of_work_that_is_given_up_end_with_it():
    count = threading.active_count()

    def work():
        with ThreadPoolExecutor(2) as crew:
            while True:
                list(crew.map(abs, range(50)))

    with slicing():
        for _ in range(5):
            steps = sliced(work)
            for _ in range(3):
                next(steps)
            steps.close()
    assert _ended(count)


def test_work_that_never_began_is_not_begun_when_it_is_given_up():
    count, seen = threading.active_count(), []
    with slicing():
        sliced(lambda: _counted(seen)).close()
    assert seen == []
    assert _ended(count)


def test_what_goes_wrong_in_a_slice_is_raised_where_it_is_waited_for():
    def work():
        _counted([], 200_000)
        raise ValueError("told")

    with slicing(), pytest.raises(ValueError, match="told"):
        whole(sliced(work))


def test_nothing_is_watched_afterwards():
    with slicing():
        whole(sliced(lambda: _counted([], 100_000)))
    assert sys.getprofile() is None


def test_a_turn_is_over_once_its_time_is_up_and_nobody_waits_without_one():
    assert not is_slicing()
    assert not is_over()
    with slicing(0.05):
        assert not is_over()
        time.sleep(0.06)
        assert is_over()
        with slicing(10.0):
            assert not is_over()
        assert is_over()
    assert not is_over()


def test_what_is_sliced_rests_by_the_end_of_the_turn():
    took = []
    for _ in range(5):  # a busy machine may be late in some of them
        with slicing(0.02):
            time.sleep(0.02)
            steps, begun = sliced(lambda: _counted([])), time.monotonic()
            next(steps)
            took.append(time.monotonic() - begun)
            steps.close()
    assert min(took) < SLICE_S
