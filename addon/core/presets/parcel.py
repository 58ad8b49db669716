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
from struct import error as struct_error
from typing import Any, NamedTuple

from .. import strict_json
from ..errors import BundleProblem

FORMAT = 1
MOST_FILES = 4000
LARGEST = 1 << 30  # bytes, packed as well as unpacked
LARGEST_MANIFEST = 4 << 20
STRONGEST = 100  # times that an entry may grow: pictures and short texts stay far below

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


class Layout(NamedTuple):
    """What stands where in a zip of one kind."""

    manifest: str
    needed: tuple[str, ...]
    most: Callable[[str, str], int]  # bytes of the file at a place; BundleProblem where nothing has to be there


def pack(files: Mapping[str, bytes], layout: Layout) -> bytes:
    """The files as a zip; the same files give the same bytes. Whether `read` takes it is to be asked of it."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as packed:
        for name, content in {layout.manifest: _manifest(files), **files}.items():
            entry = zipfile.ZipInfo(name)  # of 1980, so that nothing depends on when it was made
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            # Pictures are packed already; a flat one would shrink so far that it looked like a bomb.
            entry.compress_type = zipfile.ZIP_DEFLATED if name.endswith((".json", ".txt")) else zipfile.ZIP_STORED
            packed.writestr(entry, content)
    return made.getvalue()


def read(data: bytes, layouts: tuple[Layout, ...], where: str) -> tuple[Layout, dict[str, bytes]]:
    """How a zip is laid out and every file by its place but the manifest, all names, sizes and hashes checked.

    `where` names the zip in the sentence of the BundleProblem that a fault raises.
    """
    if len(data) > LARGEST:
        raise BundleProblem(f"{where} is larger than {LARGEST >> 20} MiB, too much for a bundle")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            entries = packed.infolist()
            names = {entry.filename for entry in entries}
            layout = next((each for each in layouts if each.manifest in names), layouts[0])
            entries = [entry for entry in entries if not _is_empty_folder(entry)]
            _check_entries(entries, layout, where)
            files = {entry.filename: _content(packed, entry, where) for entry in entries}
    except _DAMAGED:
        raise BundleProblem(f"{where} is damaged or no bundle: have it sent again") from None
    _check_manifest(files, layout.manifest, where)
    return layout, {name: content for name, content in files.items() if name != layout.manifest}


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


def _is_empty_folder(entry: zipfile.ZipInfo) -> bool:
    """Whether an entry says that there is a folder, as other tools write it: nothing is made of it."""
    return entry.filename.endswith("/") and not entry.file_size


def _check_entries(entries: list[zipfile.ZipInfo], layout: Layout, where: str) -> None:
    if len(entries) > MOST_FILES:
        raise BundleProblem(f"{where} holds {len(entries)} files, a bundle at most {MOST_FILES}")
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename
        _check_entry(entry, layout, where)
        alike = unicodedata.normalize("NFC", name).casefold()
        if alike in seen:
            raise refused(where, name, "is there twice, or another's name differs only in its case")
        seen.add(alike)
    if sum(entry.file_size for entry in entries) > LARGEST:
        raise BundleProblem(f"{where} unpacks to more than {LARGEST >> 20} MiB, too much for a bundle")
    for needed in (layout.manifest, *layout.needed):
        if needed not in seen:
            raise BundleProblem(f"{where} holds no {needed}: it is no bundle, or parts of it are lost")


def _check_entry(entry: zipfile.ZipInfo, layout: Layout, where: str) -> None:
    """Raises BundleProblem where an entry is not a plain file of a known kind and sound size at a known place."""
    name = entry.filename
    if entry.orig_filename != name:
        raise refused(where, entry.orig_filename, "has a name that systems read differently")
    most = LARGEST_MANIFEST if name == layout.manifest else layout.most(name, where)
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


def _check_manifest(files: Mapping[str, bytes], manifest: str, where: str) -> None:
    """Raises BundleProblem where the manifest does not tell exactly of the files that are there."""
    place, there = f"{manifest} in {where}", files.keys() - {manifest}
    told = strict_json.read(text(files[manifest], manifest, where), place, "manifest")
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
    for name in sorted(listed.keys() ^ there):
        says = f"stands in {manifest} only" if name in listed else f"is missing in {manifest}"
        raise refused(where, name, says)
    for name, told_of in listed.items():
        if told_of != (len(files[name]), hashlib.sha256(files[name]).hexdigest()):
            raise refused(where, name, "is not the file that was packed, its hash differs")
