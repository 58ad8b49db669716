"""What a field of a preset may hold, what it means, and where its value goes."""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, cast

from .. import strict_json

MOST_TAGS = 12


@dataclass(frozen=True)
class Number:
    """A value between two limits, both allowed."""

    low: float
    high: float
    unit: str  # "mm", "µm", "°", or "" for a share
    meaning: str
    socket: str = ""  # of the wear that takes the value as it is; "" where something is worked out from it first
    needs: str = ""  # "fine" where only the finest quality shows it; "" where every one does

    @property
    def wanted(self) -> str:
        return f"give a number from {self.low:g} to {self.high:g}"

    def read(self, value: object) -> float | None:
        """The value as a preset holds it, None where it is not allowed."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not self.low <= value <= self.high:
            return None
        return float(value)


@dataclass(frozen=True)
class Text:
    """Words of at most so many characters that match a pattern as a whole."""

    pattern: str
    most: int
    wanted: str
    meaning: str

    def read(self, value: object) -> str | None:
        fits = isinstance(value, str) and len(value) <= self.most and re.fullmatch(self.pattern, value)
        return str(value) if fits else None


@dataclass(frozen=True)
class Tags:
    """A few different words."""

    each: Text
    most: int
    wanted: str
    meaning: str

    def read(self, value: object) -> tuple[str, ...] | None:
        if not isinstance(value, list | tuple) or len(value) > self.most:
            return None
        words = [self.each.read(word) for word in value]
        return None if None in words or len(set(words)) < len(words) else tuple(map(str, words))


def number(low: float, high: float, unit: str, meaning: str, socket: str = "", needs: str = "") -> Mapping[str, Number]:
    return {"rule": Number(low, high, unit, meaning, socket, needs)}


def numbers(kind: type[Any], path: str = "") -> Iterator[tuple[str, Number]]:
    """Every number of a record and of the records in it by its path, with its rule."""
    for described in fields(kind):
        inner = strict_json.join(path, described.name)
        if is_dataclass(described.type):
            yield from numbers(cast(type[Any], described.type), inner)
        elif described.type is float:
            yield inner, described.metadata["rule"]


RESERVED = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))})

_WORD = "[a-z0-9]+(-[a-z0-9]+)*"
# Neither control characters nor those that hide, break a line or turn the direction of writing.
_ONE_LINE = (
    r"[^\x00-\x1f\x7f-\x9f\u00ad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff\ufff0-\ufffb]*"
)

NAME = Text(
    _WORD,
    60,
    "use at most 60 small letters a to z, digits and single dashes, as in harbour-day",
    "What the preset is called; its file is called the same",
)
NOTE = Text(_ONE_LINE, 300, "write at most 300 characters on one line", "What the preset looks like, in a sentence")
TAG = Text(_WORD, 30, "use at most 30 small letters a to z, digits and single dashes", "A word to find it by")
TAGS = Tags(
    TAG,
    MOST_TAGS,
    f"give a list of at most {MOST_TAGS} different words of small letters a to z, digits and single dashes",
    "Words to find the preset by",
)


def as_name(typed: str) -> str:
    """What is typed as names are: "Harbour Day (2)" gives harbour-day-2, "Café" cafe; "" where nothing is left."""
    letters = unicodedata.normalize("NFKD", typed.casefold())  # an accent stands by itself then
    bare = "".join(letter for letter in letters if not unicodedata.combining(letter))
    return re.sub("[^a-z0-9]+", "-", bare)[: NAME.most].strip("-")
