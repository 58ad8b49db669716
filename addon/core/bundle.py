"""A bundle: one zip with a preset and all that belongs to it, to send to a colleague.

    manifest.json     what the bundle holds, each file with its size and SHA-256
    preset.json       the preset
    textures/…        the pictures it was made with
    thumbnail.png     what it looks like
    licence.txt       what may be done with it

Whatever comes in is taken as hostile: every entry is checked before anything of it is used.
"""

import hashlib
import io
import json
import stat
import unicodedata
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from struct import error as struct_error
from typing import Any

from . import preset as presets
from . import strict_json
from .errors import BundleProblem
from .preset import Preset
from .texture import IMAGE_SUFFIXES, is_picture

FORMAT = 1
MANIFEST, PRESET, THUMBNAIL, LICENCE, TEXTURES = (
    "manifest.json", "preset.json", "thumbnail.png", "licence.txt", "textures/",
)  # fmt: skip
NO_LICENCE = "No licence was given. Ask whoever sent this bundle before you pass it on.\n"

MOST_ENTRIES = 40
LARGEST_BUNDLE = 512 << 20  # bytes, packed as well as unpacked
LARGEST_TEXT = 1 << 18
LARGEST_THUMBNAIL = 1 << 20
WIDEST_THUMBNAIL = 1024  # pixels
STRONGEST = 100  # times that an entry may grow: pictures and short texts stay far below
LONGEST_NAME = 100  # bytes of a texture's name

_FORBIDDEN = frozenset('<>:"/\\|?*')
_DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))})
_PNG = b"\x89PNG\r\n\x1a\n"
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    OSError,
    struct_error,
    ValueError,
    OverflowError,
    IndexError,
)  # fmt: skip  what zipfile is known to raise on bytes that are no zip


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
    files = bundle.files()
    files = {MANIFEST: _manifest(files), **files}
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as packed:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name)  # of 1980, so that nothing depends on when it was made
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            # Pictures are packed already; a flat one would shrink so far that it looked like a bomb.
            entry.compress_type = zipfile.ZIP_DEFLATED if name.endswith((".json", ".txt")) else zipfile.ZIP_STORED
            packed.writestr(entry, content)
    whole = made.getvalue()
    unpack(whole, f"the bundle of {bundle.preset.name}")
    return whole


def unpack(data: bytes, where: str) -> Bundle:
    """The bundle in the bytes of a file; `where` names it in the sentence of the BundleProblem that a fault raises.

    Raises PresetProblem where the preset in it is wrong.
    """
    if len(data) > LARGEST_BUNDLE:
        raise BundleProblem(f"{where} is larger than {LARGEST_BUNDLE >> 20} MiB, too much for a bundle")
    files = _read(data, where)
    _check_manifest(files, where)
    textures = {name.removeprefix(TEXTURES): files[name] for name in files if name.startswith(TEXTURES)}
    for name, content in textures.items():
        if not is_picture(content[:12]):
            raise _refused(where, TEXTURES + name, "is no picture")
    thumbnail = files.get(THUMBNAIL, b"")
    if thumbnail and not _is_small_png(thumbnail):
        raise _refused(where, THUMBNAIL, f"is no PNG of at most {WIDEST_THUMBNAIL} pixels a side")
    preset = presets.parse(_text(files[PRESET], PRESET, where), f"{PRESET} in {where}")
    return Bundle(preset, textures, thumbnail, _text(files[LICENCE], LICENCE, where))


def _manifest(files: Mapping[str, bytes]) -> bytes:
    told = [
        {"file": name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in files.items()
    ]
    return (json.dumps({"format": FORMAT, "files": told}, indent=2, ensure_ascii=False) + "\n").encode()


def _read(data: bytes, where: str) -> dict[str, bytes]:
    """Every file of the zip by its name, once all names, kinds and sizes were found in order."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            entries = [entry for entry in packed.infolist() if entry.filename != TEXTURES]
            _check_entries(entries, where)
            return {entry.filename: _content(packed, entry, where) for entry in entries}
    except _DAMAGED:
        raise BundleProblem(f"{where} is damaged or no bundle: have it sent again") from None


def _check_entries(entries: list[zipfile.ZipInfo], where: str) -> None:
    if len(entries) > MOST_ENTRIES:
        raise BundleProblem(f"{where} holds {len(entries)} files, a bundle at most {MOST_ENTRIES}")
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename
        _check_kind(entry, where)
        alike = unicodedata.normalize("NFC", name).casefold()
        if alike in seen:
            raise _refused(where, name, "is there twice, or another's name differs only in its case")
        seen.add(alike)
    if sum(entry.file_size for entry in entries) > LARGEST_BUNDLE:
        raise BundleProblem(f"{where} unpacks to more than {LARGEST_BUNDLE >> 20} MiB, too much for a bundle")
    for needed in (MANIFEST, PRESET, LICENCE):
        if needed not in seen:
            raise BundleProblem(f"{where} holds no {needed}: it is no bundle, or parts of it are lost")


def _check_kind(entry: zipfile.ZipInfo, where: str) -> None:
    """Raises BundleProblem where an entry is not a plain file of a known kind and sound size at a known place."""
    name, most = entry.filename, {THUMBNAIL: LARGEST_THUMBNAIL}.get(entry.filename, LARGEST_TEXT)
    if entry.orig_filename != name:
        raise _refused(where, entry.orig_filename, "has a name that systems read differently")
    if name.startswith(TEXTURES):
        _check_texture_name(name, where)
        most = LARGEST_BUNDLE
    elif name not in (MANIFEST, PRESET, THUMBNAIL, LICENCE):
        raise _refused(where, name, "is nothing that belongs in a bundle")
    if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG) or entry.is_dir():
        raise _refused(where, name, "is a link or a folder, not a file")
    if entry.flag_bits & 0x1:
        raise _refused(where, name, "is encrypted")
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise _refused(where, name, "is packed in a way that bundles do not use")
    if entry.file_size > most:
        raise _refused(where, name, f"is larger than {most} bytes")
    if entry.file_size > STRONGEST * max(entry.compress_size, 1):
        raise _refused(where, name, f"grows more than {STRONGEST} times when it is unpacked")


def _check_texture_name(name: str, where: str) -> None:
    plain = name.removeprefix(TEXTURES)
    stem = plain.partition(".")[0].rstrip().casefold()
    if (
        not plain.isprintable()
        or _FORBIDDEN & set(plain)
        or plain[:1] in (".", " ", "")
        or plain[-1:] in (".", " ")
        or len(plain.encode("utf-8", "surrogatepass")) > LONGEST_NAME
        or stem in _DEVICES
    ):
        raise _refused(where, name, "has a name that is no plain file name everywhere")
    if PurePosixPath(plain).suffix.lower() not in IMAGE_SUFFIXES:
        raise _refused(where, name, "is no kind of picture that the wear uses")


def _content(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, where: str) -> bytes:
    with packed.open(entry) as file:
        content = file.read(entry.file_size + 1)
    if len(content) != entry.file_size:
        raise _refused(where, entry.filename, "is not as long as the zip says")
    return content


def _check_manifest(files: Mapping[str, bytes], where: str) -> None:
    """Raises BundleProblem where the manifest does not tell exactly of the files that are there."""
    place = f"{MANIFEST} in {where}"
    told = strict_json.read(_text(files[MANIFEST], MANIFEST, where), place, "manifest")
    made_by = told.get("format")
    if type(made_by) is int and made_by > FORMAT:
        raise BundleProblem(f"{where} was made by a newer Playworn: update the extension")
    if type(made_by) is not int or made_by != FORMAT or not isinstance(told.get("files"), list):
        raise BundleProblem(f"{place} is none of format {FORMAT}: have the bundle made again")
    listed: dict[str, tuple[Any, Any]] = {}
    for each in told["files"]:
        if not isinstance(each, dict) or not isinstance(each.get("file"), str) or each["file"] in listed:
            raise BundleProblem(f"{place} does not name each file once: have the bundle made again")
        listed[each["file"]] = each.get("bytes"), each.get("sha256")
    if listed.keys() != files.keys() - {MANIFEST}:
        name = min(listed.keys() ^ (files.keys() - {MANIFEST}))
        raise _refused(where, name, f"stands in {MANIFEST} only" if name in listed else f"is missing in {MANIFEST}")
    for name, told_of in listed.items():
        if told_of != (len(files[name]), hashlib.sha256(files[name]).hexdigest()):
            raise _refused(where, name, "is not the file that was packed, its hash differs")


def _is_small_png(data: bytes) -> bool:
    """By its signature and the width and height in its first chunk (ISO/IEC 15948, 11.2.2)."""
    if len(data) < 24 or not data.startswith(_PNG) or data[12:16] != b"IHDR":
        return False
    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    return 0 < width <= WIDEST_THUMBNAIL and 0 < height <= WIDEST_THUMBNAIL


def _text(content: bytes, name: str, where: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _refused(where, name, "is not UTF-8 text") from None


def _refused(where: str, name: str, what: str) -> BundleProblem:
    return BundleProblem(f"{strict_json.shown(name)} in {where} {what}: nothing of it was taken in")
