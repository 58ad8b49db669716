"""Presets in one zip with all that belongs to them. One, to send to a colleague:

    manifest.json                     what the zip holds, each file with its size and SHA-256
    preset.json, licence.txt          the preset, and what may be done with all this
    thumbnail.png, textures/…         what it looks like, and the pictures it was made with

All of a user's own, as they lie in their folder; unzipped it is a folder of presets as a studio keeps it:

    playworn/manifest.json
    NAME.json, NAME.png               each preset and its picture
    bundles/NAME-MARK/…               what came along with bundles: textures that builds wear
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import NamedTuple

from ..errors import BundleProblem
from ..pictures import png
from ..wear.texture import IMAGE_SUFFIXES, is_picture
from . import parcel
from . import preset as presets
from .parcel import refused
from .preset import Preset
from .rules import NAME, RESERVED

PRESET, THUMBNAIL, LICENCE, TEXTURES = "preset.json", "thumbnail.png", "licence.txt", "textures/"
NO_LICENCE = "No licence was given. Ask whoever sent this bundle before you pass it on.\n"

LARGEST_TEXT = 1 << 18  # bytes
LARGEST_PICTURE = 1 << 20  # bytes of a small picture
WIDEST_PICTURE = 1024  # pixels of it
LARGEST_TEXTURE = 512 << 20  # bytes
LONGEST_NAME = 100  # bytes of a texture's

_FORBIDDEN = frozenset('<>:"/\\|?*')
_NAMED = re.compile(r"([^/]*)\.(?:json|png)")
_WITHIN = re.compile(r"(bundles/[a-z0-9-]{1,60}-[0-9a-f]{12}/)(.+)", re.DOTALL)


@dataclass(frozen=True)
class Bundle:
    """A preset and what belongs to it; textures by file name, the thumbnail a PNG or nothing."""

    preset: Preset
    textures: Mapping[str, bytes] = field(default_factory=dict)
    thumbnail: bytes = b""
    licence: str = NO_LICENCE

    def files(self) -> dict[str, bytes]:
        """Every file by its place in the bundle, but the manifest."""
        files = {PRESET: presets.dump(self.preset).encode(), LICENCE: self.licence.encode()}
        if self.thumbnail:
            files[THUMBNAIL] = self.thumbnail
        return {**files, **{TEXTURES + name: content for name, content in sorted(self.textures.items())}}


class Own(NamedTuple):
    """All of a user's own: presets, not looked into yet, and pictures by file name, what came along by its folder."""

    presets: dict[str, bytes]
    along: dict[str, dict[str, bytes]]


def pack(bundle: Bundle) -> bytes:
    """The bundle as a zip; the same bundle gives the same bytes. BundleProblem where no other would take it."""
    whole = parcel.pack(bundle.files(), _ONE)
    unpack(whole, f"the bundle of {bundle.preset.name}")
    return whole


def pack_own(files: Mapping[str, bytes]) -> bytes:
    """Files of the user's folder by their place as a zip; BundleProblem where `unpack` would not take it."""
    whole = parcel.pack(files, _ALL)
    unpack(whole, "the export")
    return whole


def belongs(place: str, content: bytes) -> bool:
    """Whether a file of the user's folder goes into a zip of them all."""
    try:
        _check_own(place, content, "")
        return len(content) <= _most_own(place, "")
    except BundleProblem:
        return False


def unpack(data: bytes, where: str) -> Bundle | Own:
    """What the bytes of a file hold; `where` names it in the sentence of the BundleProblem that a fault raises.

    Raises PresetProblem where the preset of a bundle is wrong.
    """
    layout, files = parcel.read(data, (_ONE, _ALL), where)
    if layout is _ALL:
        return _own(files, where)
    for name, content in files.items():
        _check(name, content, where)
    textures = {name.removeprefix(TEXTURES): files[name] for name in files if name.startswith(TEXTURES)}
    preset = presets.parse(parcel.text(files[PRESET], PRESET, where), f"{PRESET} in {where}")
    return Bundle(preset, textures, files.get(THUMBNAIL, b""), parcel.text(files[LICENCE], LICENCE, where))


def _own(files: dict[str, bytes], where: str) -> Own:
    own = Own({}, {})
    for place, content in files.items():
        _check_own(place, content, where)
        if within := _WITHIN.fullmatch(place):
            own.along.setdefault(within[1].rstrip("/"), {})[within[2]] = content
        else:
            own.presets[place] = content
    return own


def _most(name: str, where: str) -> int:
    if name.startswith(TEXTURES):
        _check_file_name(name.removeprefix(TEXTURES), name, where)
        return LARGEST_TEXTURE
    if name not in (PRESET, THUMBNAIL, LICENCE):
        raise refused(where, name, "is nothing that belongs in a bundle")
    return LARGEST_PICTURE if name == THUMBNAIL else LARGEST_TEXT


def _most_own(place: str, where: str) -> int:
    if within := _WITHIN.fullmatch(place):
        return _most(within[2], where)
    named = _NAMED.fullmatch(place)
    if not named or NAME.read(named[1]) is None or named[1] in RESERVED:
        raise refused(where, place, "is nothing that belongs in an export of presets")
    return LARGEST_TEXT if place.endswith(".json") else LARGEST_PICTURE


def _check(name: str, content: bytes, where: str) -> None:
    """BundleProblem where the file at a place is not what its name says."""
    if name.startswith(TEXTURES):
        if not is_picture(content[:12]):
            raise refused(where, name, "is no picture")
    elif not name.endswith(".png"):
        parcel.text(content, name, where)
    elif not all(0 < side <= WIDEST_PICTURE for side in png.size(content)):
        raise refused(where, name, f"is no PNG of at most {WIDEST_PICTURE} pixels a side")


def _check_own(place: str, content: bytes, where: str) -> None:
    within = _WITHIN.fullmatch(place)
    _check(within[2] if within else place, content, f"{within[1]} of {where}" if within else where)


def _check_file_name(plain: str, name: str, where: str) -> None:
    """BundleProblem where a texture's name is not one that every system takes as it is."""
    if (
        not plain.isprintable()
        or _FORBIDDEN & set(plain)
        or plain[:1] in (".", " ", "")
        or plain[-1:] in (".", " ")
        or len(plain.encode("utf-8", "surrogatepass")) > LONGEST_NAME
        or plain.partition(".")[0].rstrip().casefold() in RESERVED
    ):
        raise refused(where, name, "has a name that is no plain file name everywhere")
    if PurePosixPath(plain).suffix.lower() not in IMAGE_SUFFIXES:
        raise refused(where, name, "is no kind of picture that the wear uses")


_ONE = parcel.Layout("manifest.json", (PRESET, LICENCE), _most)
_ALL = parcel.Layout("playworn/manifest.json", (), _most_own)
