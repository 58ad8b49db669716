"""How far a job has come."""

from collections.abc import Callable, Generator
from typing import Any, TypeVar

from ..core.slices import telling

Progress = Callable[[float, str], None]  # how far, 0 to 1, and what is being done; may raise errors.Cancelled
Result = TypeVar("Result")
Steps = Generator[tuple[float, str], None, Result]  # the same, told by a job that may be stopped at each step


def quiet(fraction: float, words: str) -> None:
    """Progress that tells nobody."""


def part(fraction: float, words: str, work: Generator[Any, None, Result]) -> Steps[Result]:
    """The steps of a part of a job that says nothing by itself."""
    yield fraction, words
    return (yield from telling((fraction, words), work))


def share(first: float, last: float, words: str, steps: Steps[Result]) -> Steps[Result]:
    """The steps of a job that is a part of another: from one fraction of that to another, with words before its own."""
    try:
        while True:
            fraction, own = next(steps)
            yield first + (last - first) * fraction, f"{words}: {own}"
    except StopIteration as end:
        return end.value
    finally:
        steps.close()


def done(steps: Steps[Result], progress: Progress) -> Result:
    """Goes through all steps and tells each that is new; where `progress` raises, the job is closed and leaves
    everything as it was."""
    told = None
    try:
        while True:
            step = next(steps)
            if step != told:
                progress(*step)
                told = step
    except StopIteration as end:
        return end.value
    finally:
        steps.close()
