"""A zip from somewhere else, taken as hostile: every entry of it is checked before anything of it is used.

A manifest in it names each other file with its size and SHA-256.
"""

import hashlib
import io
import json
import stat
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from struct import error as struct_error
from typing import IO, Any

from .. import strict_json
from ..errors import BundleProblem
from ..pictures import png

FORMAT = 1
LARGEST_TEXT = 1 << 18  # bytes
LARGEST_PICTURE = 1 << 20  # bytes of a small picture
WIDEST_PICTURE = 1024  # pixels of it
STRONGEST = 100  # times that an entry may grow: pictures and short texts stay far below
LONGEST_NAME = 100  # bytes of a file's name

_FORBIDDEN = frozenset('<>:"/\\|?*')
_DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))})
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
class Kind:
    """What a zip of one kind may hold."""

    noun: str  # as sentences call it
    article: str
    manifest: str
    needed: tuple[str, ...]
    most_entries: int
    largest: int  # bytes, packed as well as unpacked
    most_bytes: Callable[[str, str], int]  # of the file at a place; BundleProblem where nothing has to be there
    is_folder: Callable[[str], bool]  # whether a folder may have an entry of its own
    largest_manifest: int = LARGEST_TEXT

    @property
    def one(self) -> str:
        return f"{self.article} {self.noun}"


def pack(files: Mapping[str, bytes], kind: Kind) -> bytes:
    """The files as a zip; the same files give the same bytes. Whether `read` takes it is to be asked of it."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as packed:
        for name, content in {kind.manifest: _manifest(files), **files}.items():
            entry = zipfile.ZipInfo(name)  # of 1980, so that nothing depends on when it was made
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            # Pictures are packed already; a flat one would shrink so far that it looked like a bomb.
            entry.compress_type = zipfile.ZIP_DEFLATED if name.endswith((".json", ".txt")) else zipfile.ZIP_STORED
            packed.writestr(entry, content)
    return made.getvalue()


def read(data: bytes, kind: Kind, where: str) -> dict[str, bytes]:
    """Every file of the zip by its place but the manifest, once all names, sizes and hashes were found in order.

    `where` names the zip in the sentence of the BundleProblem that a fault raises.
    """
    if len(data) > kind.largest:
        raise BundleProblem(f"{where} is larger than {kind.largest >> 20} MiB, too much for {kind.one}")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            entries = [entry for entry in packed.infolist() if not kind.is_folder(entry.filename)]
            _check_entries(entries, kind, where)
            files = {entry.filename: _content(packed, entry, where) for entry in entries}
    except _DAMAGED:
        raise BundleProblem(f"{where} is damaged or no {kind.noun}: have it sent again") from None
    _check_manifest(files, kind, where)
    return {name: content for name, content in files.items() if name != kind.manifest}


def names(file: IO[bytes]) -> frozenset[str]:
    """The places at which a zip says that it has files, none where it is no zip."""
    try:
        with zipfile.ZipFile(file) as packed:
            return frozenset(packed.namelist())
    except _DAMAGED:
        return frozenset()


def check_file_name(plain: str, name: str, where: str) -> None:
    """BundleProblem where the last part of an entry's name is no file name that every system takes as it is."""
    stem = plain.partition(".")[0].rstrip().casefold()
    if (
        not plain.isprintable()
        or _FORBIDDEN & set(plain)
        or plain[:1] in (".", " ", "")
        or plain[-1:] in (".", " ")
        or len(plain.encode("utf-8", "surrogatepass")) > LONGEST_NAME
        or stem in _DEVICES
    ):
        raise refused(where, name, "has a name that is no plain file name everywhere")


def check_small_png(data: bytes, name: str, where: str) -> None:
    """BundleProblem where the file's own word on its size is none of a picture for a list."""
    if not all(0 < side <= WIDEST_PICTURE for side in png.size(data)):
        raise refused(where, name, f"is no PNG of at most {WIDEST_PICTURE} pixels a side")


def text(content: bytes, name: str, where: str) -> str:
    """The text of a file; BundleProblem where it is no UTF-8."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refused(where, name, "is not UTF-8 text") from None


def refused(where: str, name: str, what: str) -> BundleProblem:
    return BundleProblem(f"{strict_json.shown(name)} in {where} {what}: nothing of it was taken in")


def _manifest(files: Mapping[str, bytes]) -> bytes:
    told = [
        {"file": name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in files.items()
    ]
    return (json.dumps({"format": FORMAT, "files": told}, indent=2, ensure_ascii=False) + "\n").encode()


def _check_entries(entries: list[zipfile.ZipInfo], kind: Kind, where: str) -> None:
    if len(entries) > kind.most_entries:
        raise BundleProblem(f"{where} holds {len(entries)} files, {kind.one} at most {kind.most_entries}")
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename
        _check_entry(entry, kind, where)
        alike = unicodedata.normalize("NFC", name).casefold()
        if alike in seen:
            raise refused(where, name, "is there twice, or another's name differs only in its case")
        seen.add(alike)
    if sum(entry.file_size for entry in entries) > kind.largest:
        raise BundleProblem(f"{where} unpacks to more than {kind.largest >> 20} MiB, too much for {kind.one}")
    for needed in (kind.manifest, *kind.needed):
        if needed not in seen:
            raise BundleProblem(f"{where} holds no {needed}: it is no {kind.noun}, or parts of it are lost")


def _check_entry(entry: zipfile.ZipInfo, kind: Kind, where: str) -> None:
    """Raises BundleProblem where an entry is not a plain file of a known kind and sound size at a known place."""
    name = entry.filename
    if entry.orig_filename != name:
        raise refused(where, entry.orig_filename, "has a name that systems read differently")
    most = kind.largest_manifest if name == kind.manifest else kind.most_bytes(name, where)
    if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG) or entry.is_dir():
        raise refused(where, name, "is a link or a folder, not a file")
    if entry.flag_bits & 0x1:
        raise refused(where, name, "is encrypted")
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise refused(where, name, "is packed in a way that bundles do not use")
    if entry.file_size > most:
        raise refused(where, name, f"is larger than {most} bytes")
    if entry.file_size > STRONGEST * max(entry.compress_size, 1):
        raise refused(where, name, f"grows more than {STRONGEST} times when it is unpacked")


def _content(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, where: str) -> bytes:
    with packed.open(entry) as file:
        content = file.read(entry.file_size + 1)
    if len(content) != entry.file_size:
        raise refused(where, entry.filename, "is not as long as the zip says")
    return content


def _check_manifest(files: Mapping[str, bytes], kind: Kind, where: str) -> None:
    """Raises BundleProblem where the manifest does not tell exactly of the files that are there."""
    place = f"{kind.manifest} in {where}"
    told = strict_json.read(text(files[kind.manifest], kind.manifest, where), place, "manifest")
    made_by = told.get("format")
    if type(made_by) is int and made_by > FORMAT:
        raise BundleProblem(f"{where} was made by a newer Playworn: update the extension")
    if type(made_by) is not int or made_by != FORMAT or not isinstance(told.get("files"), list):
        raise BundleProblem(f"{place} is none of format {FORMAT}: have the {kind.noun} made again")
    listed: dict[str, tuple[Any, Any]] = {}
    for each in told["files"]:
        if not isinstance(each, dict) or not isinstance(each.get("file"), str) or each["file"] in listed:
            raise BundleProblem(f"{place} does not name each file once: have the {kind.noun} made again")
        listed[each["file"]] = each.get("bytes"), each.get("sha256")
    if listed.keys() != files.keys() - {kind.manifest}:
        name = min(listed.keys() ^ (files.keys() - {kind.manifest}))
        says = f"stands in {kind.manifest} only" if name in listed else f"is missing in {kind.manifest}"
        raise refused(where, name, says)
    for name, told_of in listed.items():
        if told_of != (len(files[name]), hashlib.sha256(files[name]).hexdigest()):
            raise refused(where, name, "is not the file that was packed, its hash differs")
