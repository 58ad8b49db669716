"""PNG as bytes, without an imaging library: greys or colours of sixteen bits or eight, and words within any picture.

Format: W3C Portable Network Graphics (ISO/IEC 15948); greys have colour type 0 and colours 2, filter Up on every row,
words are in tEXt chunks.
"""

import struct
import zlib
from collections.abc import Iterator

import numpy as np

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_GREY, _COLOUR = 0, 2
_UP = 2
_TEXT = b"tEXt"


def encode(picture: np.ndarray, bits: int = 16) -> bytes:
    """The PNG file of an array of values 0..1, greys (height, width) or colours (height, width, 3), in 16 bits or 8;
    row 0 is the top of the picture."""
    height, width = picture.shape[:2]
    samples = np.round(np.clip(picture, 0.0, 1.0) * (2.0**bits - 1.0)).astype(f">u{bits // 8}")
    rows = np.ascontiguousarray(samples).view(np.uint8).reshape(height, -1)
    filtered = np.empty((height, rows.shape[1] + 1), np.uint8)
    filtered[:, 0] = _UP
    filtered[0, 1:] = rows[0]
    filtered[1:, 1:] = rows[1:] - rows[:-1]
    header = struct.pack(">IIBBBBB", width, height, bits, _COLOUR if picture.ndim == 3 else _GREY, 0, 0, 0)
    body = zlib.compress(filtered.tobytes(), 3)
    return _SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", body) + _chunk(b"IEND", b"")


def size(picture: bytes) -> tuple[int, int]:
    """Width and height of a PNG file, by the first of its chunks (11.2.2); 0 and 0 where it is none."""
    kind, data = next(_chunks(picture), (b"", b""))
    if kind != b"IHDR" or len(data) < 8:
        return 0, 0
    return int.from_bytes(data[:4], "big"), int.from_bytes(data[4:8], "big")


def told(picture: bytes, keyword: str, words: str) -> bytes:
    """A PNG file with words in Latin-1 under a keyword, in place of those that it had."""
    chunks = [(kind, data) for kind, data in _chunks(picture) if not _is_under(kind, data, keyword)]
    chunks.insert(1, (_TEXT, _key(keyword) + words.encode("latin-1")))  # right after the header
    return _SIGNATURE + b"".join(_chunk(kind, data) for kind, data in chunks)


def tells(picture: bytes, keyword: str) -> str:
    """The words under a keyword in a PNG file, "" where it has none or is none."""
    found = (data for kind, data in _chunks(picture) if _is_under(kind, data, keyword))
    return next(found, b"").removeprefix(_key(keyword)).decode("latin-1")


def _key(keyword: str) -> bytes:
    return keyword.encode("latin-1") + b"\0"


def _is_under(kind: bytes, data: bytes, keyword: str) -> bool:
    return kind == _TEXT and data.startswith(_key(keyword))


def _chunks(picture: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and data of each chunk, up to where the file is damaged; nothing of what is no PNG."""
    place = len(_SIGNATURE) if picture.startswith(_SIGNATURE) else len(picture)
    while place + 12 <= len(picture):
        end = place + 12 + int.from_bytes(picture[place : place + 4], "big")
        if end <= len(picture):
            yield picture[place + 4 : place + 8], picture[place + 8 : end - 4]
        place = end


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
