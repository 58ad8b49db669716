"""All presets of a user's own in one zip, to be kept apart or taken to another machine.

    NAME.json, NAME.png               each preset and its picture, as they lie in the user's folder
    bundles/NAME-MARK/…               what came along with bundles: textures that builds wear
    playworn/manifest.json            what the zip holds

Unzipped it is a folder of presets as a studio keeps it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import IO

from ..errors import BundleProblem
from . import bundle, parcel

MANIFEST = "playworn/manifest.json"
MOST_FILES = 4000
LARGEST = 1 << 30  # bytes
LONGEST_NAME = 60  # letters of a preset's

_OF_PRESET = re.compile(r"([a-z0-9]+(?:-[a-z0-9]+)*)\.(json|png)")
_OF_BUNDLE = re.compile(r"bundles/([a-z0-9-]{1,60}-[0-9a-f]{12})/(.+)", re.DOTALL)
_FOLDER = re.compile(r"playworn/|bundles/(?:[a-z0-9-]{1,73}/(?:textures/)?)?")


@dataclass(frozen=True)
class Contents:
    """What such a zip holds, by name; the presets are not looked into yet."""

    presets: Mapping[str, str] = field(default_factory=dict)  # JSON
    pictures: Mapping[str, bytes] = field(default_factory=dict)  # PNG
    bundles: Mapping[str, Mapping[str, bytes]] = field(default_factory=dict)  # by folder, the files by their place


def is_one(file: IO[bytes]) -> bool:
    """Whether a file says that it is such a zip, and no bundle."""
    return MANIFEST in parcel.names(file)


def takes(place: str, content: bytes) -> bool:
    """Whether a file of the user's folder goes into such a zip."""
    try:
        _check(place, content, "")
        return len(content) <= _most_bytes(place, "")
    except BundleProblem:
        return False


def pack(files: Mapping[str, bytes]) -> bytes:
    """Files of the user's folder by their place as a zip; BundleProblem where `unpack` would not take it."""
    whole = parcel.pack(files, _KIND)
    unpack(whole, "the export")
    return whole


def unpack(data: bytes, where: str) -> Contents:
    """What the bytes of a file hold; `where` names it in the sentence of the BundleProblem that a fault raises."""
    presets: dict[str, str] = {}
    pictures: dict[str, bytes] = {}
    of_bundles: dict[str, dict[str, bytes]] = {}
    for place, content in parcel.read(data, _KIND, where).items():
        _check(place, content, where)
        if within := _OF_BUNDLE.fullmatch(place):
            of_bundles.setdefault(within[1], {})[within[2]] = content
        elif place.endswith(".json"):
            presets[place.removesuffix(".json")] = parcel.text(content, place, where)
        else:
            pictures[place.removesuffix(".png")] = content
    return Contents(presets, pictures, of_bundles)


def _most_bytes(place: str, where: str) -> int:
    """How large the file at a place may be; BundleProblem where none has to be there."""
    if within := _OF_BUNDLE.fullmatch(place):
        return bundle.most_bytes(within[2], where)
    if not (named := _OF_PRESET.fullmatch(place)) or len(named[1]) > LONGEST_NAME:
        raise parcel.refused(where, place, "is nothing that belongs in an export of presets")
    parcel.check_file_name(place, place, where)
    return parcel.LARGEST_TEXT if named[2] == "json" else parcel.LARGEST_PICTURE


def _check(place: str, content: bytes, where: str) -> None:
    """BundleProblem where the file at a place is not what its name says."""
    if within := _OF_BUNDLE.fullmatch(place):
        bundle.check_content(within[2], content, f"{place.removesuffix(within[2])} of {where}")
    elif place.endswith(".png"):
        parcel.check_small_png(content, place, where)
    else:
        parcel.text(content, place, where)


_KIND = parcel.Kind(
    "export of presets",
    "an",
    MANIFEST,
    (),
    MOST_FILES,
    LARGEST,
    _most_bytes,
    lambda name: _FOLDER.fullmatch(name) is not None,
    largest_manifest=4 << 20,
)
