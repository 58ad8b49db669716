"""The presets as the panel offers them: read from the library only when one of its folders has changed."""

from pathlib import Path

from ... import usecases
from ...core.errors import PlaywornError
from ...core.presets.catalogue import Listed
from ...core.presets.preset import Preset
from ...core.remembered import keeping
from .. import disk

Item = tuple[str, str, str]  # identifier, label, tooltip


def items(chosen: str, changed: bool = False) -> tuple[Item, ...]:
    """One item for each preset; a chosen one that is gone, or whose limits are changed, says so.

    Blender keeps no copy of the words of a dynamic list, the cache does.
    """
    return _items(chosen, changed, disk.seen().presets)


def preset(name: str) -> Preset | None:
    """The preset of that name, or None where it is missing or broken."""
    return _preset(name, disk.seen().presets)


def listed() -> tuple[Listed, ...]:
    """Every preset of the library, hidden and broken ones too."""
    return _listed(disk.seen().presets)


def label(name: str) -> str:
    """The name as a heading: toy-box reads Toy Box."""
    return name.replace("-", " ").title()


def picture(listed: Listed) -> tuple[Path, int] | None:
    """The picture of a preset that can be used and when it was made, None where it has none."""
    return _picture(listed, disk.seen().presets)


def forget() -> None:
    """Drops what was read, for a preset that was changed in its place."""
    disk.forget()
    _picture.cache_clear()
    _listed.cache_clear()
    _items.cache_clear()
    _preset.cache_clear()


@keeping(4)
def _listed(stamp: tuple[int, ...]) -> tuple[Listed, ...]:
    return usecases.list_presets()


@keeping(64)
def _items(chosen: str, changed: bool, stamp: tuple[int, ...]) -> tuple[Item, ...]:
    found: dict[str, Item] = {}
    for each in _listed(stamp):
        words = label(each.name) + " (changed)" * (changed and each.name == chosen)
        found.setdefault(each.name, (each.name, words, (each.problem or each.note).rstrip(".")))
    if chosen not in found:
        gone = f"{label(chosen)} (not in the library)"
        found[chosen] = (chosen, gone, "Only this file knows it; Save Preset keeps it")
    return tuple(found.values())


@keeping(256)
def _picture(listed: Listed, stamp: tuple[int, ...]) -> tuple[Path, int] | None:
    known = None if listed.problem else _preset(listed.name, stamp)
    path = usecases.preset_picture(listed, known) if known else None
    return (path, path.stat().st_mtime_ns) if path else None


@keeping(64)
def _preset(name: str, stamp: tuple[int, ...]) -> Preset | None:
    try:
        return usecases.find_preset(name)
    except PlaywornError:
        return None  # the item's tooltip tells why; applying it raises the sentence
