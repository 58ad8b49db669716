"""Raw properties of ours on data-blocks, written so that a transaction can take them back.

A file of Blender 4.5 that is opened in 5.0 or later has each of them twice, once in the store of registered properties;
4.5 would read that one again. So whatever is written or taken off leaves no second one.
"""

import json
from collections.abc import Container, Iterable, Iterator, Sequence
from itertools import repeat
from math import isfinite
from operator import contains
from typing import Any, cast

import bpy

from . import compat
from .transaction import Back, keep

Owner = bpy.types.ID | bpy.types.ViewLayer


def put(owner: Owner, name: str, value: Any) -> None:
    """Sets one."""
    keep_all([owner], (name,))
    owner[name] = value


def drop(owner: Owner, *names: str) -> None:
    """Takes those off that are there."""
    keep_all([owner], names)
    for name in names:
        if name in owner:
            del owner[name]


def keep_all(owners: Iterable[Owner], names: Sequence[str]) -> None:
    """Before many are written: what each of the owners has under these names."""
    owners = list(owners)
    keep(lambda: _before([(owner, name) for owner in owners for name in names]))
    if compat.keeps_raw_apart():
        for owner in owners:
            _drop_second(owner, names)


def carried(owners: Iterable[Owner], name: str) -> Iterator[bool]:
    """Whether each of the owners has one of this name; of thousands, nothing tells sooner."""
    return map(contains, cast(Iterable[Container[object]], owners), repeat(name))


def text(owner: Owner, name: str) -> str:
    """A text of ours, "" where there is none: anyone may put anything under its name."""
    value = owner.get(name)
    return value if isinstance(value, str) else ""


def numbers(owner: Owner, name: str, many: int) -> tuple[float, ...] | None:
    """So many finite numbers of ours, None where there are none."""
    value = plain(owner.get(name))
    if not isinstance(value, list | tuple) or len(value) != many:
        return None
    return tuple(value) if all(isinstance(each, int | float) and isfinite(each) for each in value) else None


def said(words: str) -> Any:
    """What a text of ours says; ValueError where it is none."""
    try:
        return json.loads(words)
    except RecursionError:
        raise ValueError("nested too deeply") from None


def plain(value: Any) -> Any:
    """A raw property as it can be written again."""
    for convert in ("to_dict", "to_list"):
        if hasattr(value, convert):
            return getattr(value, convert)()
    return value


def _drop_second(owner: Owner, names: Sequence[str]) -> None:
    store = compat.registered(owner)
    if store is not None:
        for name in filter(store.__contains__, names):
            del store[name]


def _before(places: list[tuple[Owner, str]]) -> Back:
    were = [(owner, name, plain(owner[name]) if name in owner else None) for owner, name in places]

    def back() -> None:
        for owner, name, value in were:
            if value is not None:
                owner[name] = value
            elif name in owner:
                del owner[name]

    return back
