"""What bringing a build in had to tell, kept with the build: it stands under it as long as the build does."""

import json
from collections.abc import Sequence

import bpy

from ... import raw

TOLD = "playworn_told"


def keep(collection: bpy.types.Collection, lines: Sequence[str]) -> None:
    """Keeps these sentences, each once, instead of those kept before."""
    if lines:
        collection[TOLD] = json.dumps(list(dict.fromkeys(lines)), ensure_ascii=False)
    elif TOLD in collection:
        del collection[TOLD]


def of(collection: bpy.types.Collection) -> tuple[str, ...]:
    """The sentences kept with a build; none where it was not brought in by the tool."""
    try:
        lines = raw.said(raw.text(collection, TOLD) or "[]")
    except ValueError:
        return ()
    return tuple(line for line in lines if isinstance(line, str)) if isinstance(lines, list) else ()
