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


def matching(listed: Iterable[Listed], words: str = "", tag: str = "") -> tuple[Listed, ...]:
    """Those that hold every word in their name, note or tags, in any case, and that have the tag, if any."""
    wanted = words.lower().split()
    return tuple(
        each for each in listed if (not tag or tag in each.tags) and all(word in _all_words(each) for word in wanted)
    )


def tags(listed: Iterable[Listed]) -> tuple[str, ...]:
    """Every tag that is in use, by name."""
    return tuple(sorted({tag for each in listed for tag in each.tags}))


def _all_words(listed: Listed) -> str:
    return " ".join((listed.name, listed.note, *listed.tags)).lower()
