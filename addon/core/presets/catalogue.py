"""The presets of a library as a list tells of them, and how one is found in it."""

from collections.abc import Iterable
from typing import NamedTuple

SHIPPED = "shipped"
STUDIO = "studio"
OWN = "own"


class Listed(NamedTuple):
    """A preset of the library; one that cannot be used has a problem that tells why."""

    name: str
    note: str
    origin: str  # SHIPPED, STUDIO or OWN
    tags: tuple[str, ...] = ()
    problem: str = ""


def matching(listed: Iterable[Listed], words: str) -> tuple[Listed, ...]:
    """Those that hold every word in their name, note or tags, in any case."""
    wanted = words.lower().split()
    return tuple(each for each in listed if all(word in _all_words(each) for word in wanted))


def _all_words(listed: Listed) -> str:
    return " ".join((listed.name, listed.note, *listed.tags)).lower()
