"""What each picture of a folder is for: told by its file name, or chosen by hand."""

from collections.abc import Iterable, Mapping
from pathlib import PurePath
from types import MappingProxyType

from ..report import TextureUse
from . import words
from .layers import PICTURES
from .marks import OTHER
from .texture import is_image

Chosen = Mapping[str, str]  # by file name the layer that a picture is for, OTHER for none: the artist's own choice

CHOICES = (*PICTURES, OTHER)
MOST = 4  # pictures of a kind that serve together: each takes its memory in every render
STOOD_IN = "stand-in"
NOT_TOLD = "its name does not tell what it is for"
LEFT_OUT = "left out by hand"
BY_NAME: Chosen = MappingProxyType({})  # nothing chosen


def kind_of(name: str, chosen: Chosen = BY_NAME) -> str | None:
    """What a picture holds, as chosen, else by the words in its file name; None where it is for nothing."""
    if name in chosen:
        return chosen[name] if chosen[name] in PICTURES else None
    return words.told(
        PurePath(name).stem, {kind: (*each.words, *each.further_words) for kind, each in PICTURES.items()}
    )


def pick(names: Iterable[str], kind: str, chosen: Chosen = BY_NAME) -> tuple[str, ...]:
    """The pictures of a folder that serve as `kind`: by name, those first that were chosen."""
    fitting = [name for name in names if is_image(name) and kind_of(name, chosen) == kind]
    return tuple(sorted(fitting, key=lambda name: (name not in chosen, name))[:MOST])


def uses(names: Iterable[str], chosen: Chosen = BY_NAME) -> tuple[TextureUse, ...]:
    """What becomes of each picture of a folder, and which layers go without: first the layers, then what is left."""
    pictures = sorted(name for name in names if is_image(name))
    serving = {kind: pick(pictures, kind, chosen) for kind in PICTURES}
    served: list[TextureUse] = []
    for kind, picked in serving.items():
        served += [TextureUse(kind, name, "") for name in picked]
        if not picked:
            served.append(TextureUse(kind, STOOD_IN, f"no file name in the folder tells of {kind}"))
    used = {name for picked in serving.values() for name in picked}
    left = [TextureUse("", name, _why_left(name, chosen)) for name in pictures if name not in used]
    return (*served, *left)


def _why_left(name: str, chosen: Chosen) -> str:
    if kind := kind_of(name, chosen):
        return f"{MOST} others serve as {kind}, the first by name"
    return LEFT_OUT if name in chosen else NOT_TOLD
