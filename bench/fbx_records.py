"""A binary FBX as a tree of records, so that one value can be spoiled and the file around it stays whole.

Format: the node records as Blender Foundation's "FBX binary file format specification" (2013) describes them, below
version 7500.
"""

import struct
import zlib
from dataclasses import dataclass

HEAD = 27  # magic and version
WIDTHS = {b"Y": 2, b"C": 1, b"B": 1, b"I": 4, b"F": 4, b"D": 8, b"L": 8}
ITEMS = {b"f": 4, b"d": 8, b"l": 8, b"i": 4, b"b": 1}


@dataclass
class Record:
    """`values`: pairs of a letter and its bytes, lists unpacked; `inner`: None where there is no list of records."""

    name: bytes
    values: list[tuple[bytes, bytes]]
    inner: "list[Record] | None"


def read(data: bytes) -> list[Record]:
    """The records; struct.error or ValueError where they lead nowhere."""
    if struct.unpack_from("<I", data, HEAD - 4)[0] >= 7500:
        raise ValueError("its offsets are wide")
    return _records(data, HEAD)[0]


def written(head: bytes, records: list[Record]) -> bytes:
    """The file with these records, behind the first bytes of another."""
    data = bytearray(head[:HEAD])
    for record in records:
        _write(record, data)
    return bytes(data) + bytes(13)


def _records(data, at):
    found = []
    while True:
        end, count, size, long = struct.unpack_from("<IIIB", data, at)
        if not end:
            return found, at + 13
        name = data[at + 13 : at + 13 + long]
        first = at + 13 + long
        values = list(_values(data, first, count))
        inner = _records(data, first + size)[0] if first + size < end else None
        found.append(Record(name, values, inner))
        if end <= at:
            raise ValueError("its records lead back")
        at = end


def _values(data, at, count):
    for _ in range(count):
        letter = data[at : at + 1]
        at += 1
        if letter in ITEMS:
            many, packed, size = struct.unpack_from("<III", data, at)
            raw = data[at + 12 : at + 12 + (size if packed else many * ITEMS[letter])]
            at += 12 + len(raw)
            yield letter, zlib.decompress(raw) if packed else raw
            continue
        if letter in (b"S", b"R"):
            size = struct.unpack_from("<I", data, at)[0]
            at += 4
        else:
            size = WIDTHS[letter]
        yield letter, data[at : at + size]
        at += size


def _write(record, data):
    values = b"".join(_value(letter, raw) for letter, raw in record.values)
    start = len(data)
    data += bytes(12) + bytes([len(record.name)]) + record.name + values
    for each in record.inner or ():
        _write(each, data)
    if record.inner is not None:
        data += bytes(13)
    struct.pack_into("<III", data, start, len(data), len(record.values), len(values))


def _value(letter, raw):
    if letter in ITEMS:
        return letter + struct.pack("<III", len(raw) // ITEMS[letter], 0, len(raw)) + raw
    return letter + (struct.pack("<I", len(raw)) if letter in (b"S", b"R") else b"") + raw
