"""How far a job has come."""

from collections.abc import Callable

Progress = Callable[[float, str], None]  # how far, 0 to 1, and what is being done; may raise errors.Cancelled


def quiet(fraction: float, words: str) -> None:
    """Progress that tells nobody."""
