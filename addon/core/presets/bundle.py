"""A bundle: one zip with a preset and all that belongs to it, to send to a colleague.

manifest.json     what the bundle holds, each file with its size and SHA-256
preset.json       the preset
textures/…        the pictures it was made with
thumbnail.png     what it looks like
licence.txt       what may be done with it
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from ..wear.texture import IMAGE_SUFFIXES, is_picture
from . import parcel
from . import preset as presets
from .preset import Preset

MANIFEST, PRESET, THUMBNAIL, LICENCE, TEXTURES = (
    "manifest.json", "preset.json", "thumbnail.png", "licence.txt", "textures/",
)  # fmt: skip
NO_LICENCE = "No licence was given. Ask whoever sent this bundle before you pass it on.\n"

MOST_ENTRIES = 40
LARGEST = 512 << 20  # bytes, packed as well as unpacked


@dataclass(frozen=True)
class Bundle:
    """What a bundle holds; textures by file name, the thumbnail a PNG or nothing."""

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


def pack(bundle: Bundle) -> bytes:
    """The bundle as a zip; the same bundle gives the same bytes. BundleProblem where no other would take it."""
    whole = parcel.pack(bundle.files(), _KIND)
    unpack(whole, f"the bundle of {bundle.preset.name}")
    return whole


def unpack(data: bytes, where: str) -> Bundle:
    """The bundle in the bytes of a file; `where` names it in the sentence of the BundleProblem that a fault raises.

    Raises PresetProblem where the preset in it is wrong.
    """
    files = parcel.read(data, _KIND, where)
    for name, content in files.items():
        check_content(name, content, where)
    textures = {name.removeprefix(TEXTURES): files[name] for name in files if name.startswith(TEXTURES)}
    preset = presets.parse(parcel.text(files[PRESET], PRESET, where), f"{PRESET} in {where}")
    return Bundle(preset, textures, files.get(THUMBNAIL, b""), parcel.text(files[LICENCE], LICENCE, where))


def check_content(name: str, content: bytes, where: str) -> None:
    """BundleProblem where the file at a place is not what its name says."""
    if name == THUMBNAIL:
        parcel.check_small_png(content, name, where)
    elif not name.startswith(TEXTURES):
        parcel.text(content, name, where)
    elif not is_picture(content[:12]):
        raise parcel.refused(where, name, "is no picture")


def most_bytes(name: str, where: str) -> int:
    """How large the file at a place may be; BundleProblem where none has to be there."""
    if name.startswith(TEXTURES):
        plain = name.removeprefix(TEXTURES)
        parcel.check_file_name(plain, name, where)
        if PurePosixPath(plain).suffix.lower() not in IMAGE_SUFFIXES:
            raise parcel.refused(where, name, "is no kind of picture that the wear uses")
        return LARGEST
    if name not in (PRESET, THUMBNAIL, LICENCE):
        raise parcel.refused(where, name, "is nothing that belongs in a bundle")
    return parcel.LARGEST_PICTURE if name == THUMBNAIL else parcel.LARGEST_TEXT


_KIND = parcel.Kind(
    "bundle", "a", MANIFEST, (PRESET, LICENCE), MOST_ENTRIES, LARGEST, most_bytes, lambda name: name == TEXTURES
)
