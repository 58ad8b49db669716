"""How far a job has come."""

from collections.abc import Callable, Generator
from typing import TypeVar

Progress = Callable[[float, str], None]  # how far, 0 to 1, and what is being done; may raise errors.Cancelled
Result = TypeVar("Result")
Steps = Generator[tuple[float, str], None, Result]  # the same, told by a job that may be stopped at each step


def quiet(fraction: float, words: str) -> None:
    """Progress that tells nobody."""


def done(steps: Steps[Result], progress: Progress) -> Result:
    """Goes through all steps; where `progress` raises, the job is closed and leaves everything as it was."""
    try:
        while True:
            progress(*next(steps))
    except StopIteration as end:
        return end.value
    finally:
        steps.close()
