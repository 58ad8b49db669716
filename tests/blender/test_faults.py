"""Whatever goes wrong in a job, and wherever: the file is as it was, or as it is when all is done."""

from contextlib import suppress

import pytest

from addon.transaction import at_end, keep, transaction
from tests.blender.faults import JOBS, Line, Raised, tried

LINES = 6  # of a job, on one of three Blenders; bench/faults.py raises at all of them


@pytest.mark.shared_out
@pytest.mark.parametrize("name", JOBS)
def test_a_job_that_fails_leaves_the_file_as_it_was(name, extension):
    count, mixed = tried(JOBS[name], _sample)
    assert count
    assert mixed == []


def _sample(lines: list[Line]) -> list[Line]:
    return lines[:: -(-len(lines) // LINES)]


def test_what_was_kept_comes_back_the_last_first():
    told = []
    with suppress(Raised), transaction():
        for number in range(3):
            keep(lambda number=number: lambda: told.append(number))
        raise Raised
    assert told == [2, 1, 0]


def test_one_that_fails_within_another_is_all_that_comes_back():
    told = []
    with transaction():
        keep(lambda: lambda: told.append("outer"))
        with suppress(Raised), transaction():
            keep(lambda: lambda: told.append("inner"))
            raise Raised
        keep(lambda: lambda: told.append("after"))
    assert told == ["inner"]


def test_a_place_that_says_which_it_is_is_looked_at_once_in_a_transaction():
    told = []

    def look(number: int):
        return lambda: lambda: told.append(number)

    with suppress(Raised), transaction():
        keep(look(0), of="here")
        keep(look(1), of="here")
        keep(look(2), of="there")
        for number in (3, 4):  # what one of these kept is gone with it
            with suppress(Raised), transaction():
                keep(look(number), of="here")
                raise Raised
        keep(look(5), of="here")
        raise Raised
    assert told == [3, 4, 5, 2, 0]


def test_sweeps_wait_for_the_end_and_run_once():
    told = []

    def sweep():
        told.append("swept")

    with transaction():
        at_end(sweep)
        with transaction():
            at_end(sweep)
        assert told == []
    assert told == ["swept"]
    at_end(sweep)
    assert told == ["swept", "swept"]


def test_nobody_looks_outside_of_a_transaction():
    keep(lambda: pytest.fail("nothing could ask for it"))
