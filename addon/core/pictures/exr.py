"""Whether an OpenEXR picture goes on to its end, by the file layout that OpenEXR publishes.

Blender 5.0 does not survive to read one that is cut.
"""

import struct

TILED, PARTS = 0x200, 0x1000  # of the version's flags
_DEEP = 0x800
_LINES = (1, 1, 1, 16, 32, 16, 32, 32, 32, 256, 256, 32)  # of pixels in a block, by the kind of compression
_MOST_LINES = 256  # of a kind that is not known yet
_WINDOW, _PACKED = b"dataWindow", b"compression"

Header = dict[bytes, tuple[bytes, bytes]]  # the kind and the value of each thing said, by its name


def is_whole(picture: bytes) -> bool:
    """Whether all blocks of pixels that it lists lie within it; deep ones and several parts are not looked through."""
    try:
        return bool(flags(picture) & (_DEEP | PARTS)) or _holds_its_blocks(picture)
    except (struct.error, ValueError, KeyError, IndexError, OverflowError):
        return False


def flags(picture: bytes) -> int:
    """The version and what else its second word tells."""
    return struct.unpack_from("<I", picture, 4)[0]


def headers(picture: bytes) -> tuple[list[Header], int]:
    """What is said of each part, and where that ends."""
    found, at = [], 8
    while picture[at]:
        said, at = _header(picture, at)
        found.append(said)
        if not flags(picture) & PARTS:
            return found, at
    return found, at + 1


def value(said: Header, name: bytes) -> bytes:
    """What is said under a name, nothing where that is not told of."""
    return said.get(name, (b"", b""))[1]


def places(picture: bytes, at: int) -> list[int]:
    """Where the blocks of pixels of a single part lie: the list ends where the first block begins."""
    found: list[int] = []
    while at < min(found, default=len(picture)):
        found += struct.unpack_from("<Q", picture, at)
        at += 8
    if found and at != min(found):
        raise ValueError("the list runs into the pixels")
    return found


def _holds_its_blocks(picture: bytes) -> bool:
    (said,), at = headers(picture)
    found = places(picture, at)
    is_tiled = flags(picture) & TILED
    before = 16 if is_tiled else 4  # bytes of where it belongs, before its length
    ends = [place + before + 4 + struct.unpack_from("<I", picture, place + before)[0] for place in found]
    low, high = struct.unpack("<4i", said[_WINDOW][1])[1::2]
    lines = dict(enumerate(_LINES)).get(said[_PACKED][1][0], _MOST_LINES)
    wanted = 1 if is_tiled else -(-(high - low + 1) // lines)
    return len(found) >= wanted and max(ends) <= len(picture)


def _header(picture: bytes, at: int) -> tuple[Header, int]:
    """What one header says, and where it ends."""
    said: Header = {}
    while picture[at]:
        ahead = picture[at : at + 1024]  # names have 255 letters at most
        name, kind, rest = ahead.split(b"\0", 2)
        at += len(ahead) - len(rest)
        size = struct.unpack_from("<I", picture, at)[0]
        said[name] = kind, picture[at + 4 : at + 4 + size]
        at += 4 + size
    return said, at + 1
