"""Whether an OpenEXR picture goes on to its end, by the file layout that OpenEXR publishes.

Blender 5.0 does not survive to read one that is cut.
"""

import struct

_TILED, _OTHERS = 0x200, 0x1800  # of the version's flags; the others are deep pixels and several parts
_LINES = (1, 1, 1, 16, 32, 16, 32, 32, 32, 256, 256, 32)  # of pixels in a block, by the kind of compression
_MOST_LINES = 256  # of a kind that is not known yet
_WINDOW, _PACKED = b"dataWindow", b"compression"


def is_whole(picture: bytes) -> bool:
    """Whether all blocks of pixels that it lists lie within it; deep ones and several parts are not looked through."""
    try:
        return bool(struct.unpack_from("<I", picture, 4)[0] & _OTHERS) or _holds_its_blocks(picture)
    except (struct.error, ValueError, KeyError, IndexError):
        return False


def _holds_its_blocks(picture: bytes) -> bool:
    said, at = _header(picture)
    places: list[int] = []
    while at < min(places, default=len(picture)):  # the list ends where the first block begins
        places += struct.unpack_from("<Q", picture, at)
        at += 8
    is_tiled = struct.unpack_from("<I", picture, 4)[0] & _TILED
    before = 16 if is_tiled else 4  # bytes of where it belongs, before its length
    ends = [place + before + 4 + struct.unpack_from("<I", picture, place + before)[0] for place in places]
    low, high = struct.unpack("<4i", said[_WINDOW])[1::2]
    lines = dict(enumerate(_LINES)).get(said[_PACKED][0], _MOST_LINES)
    wanted = 1 if is_tiled else -(-(high - low + 1) // lines)
    return len(places) >= wanted and at == min(places) and max(ends) <= len(picture)


def _header(picture: bytes) -> tuple[dict[bytes, bytes], int]:
    """What its header says, and where that ends."""
    said, at = {}, 8
    while picture[at]:
        ahead = picture[at : at + 1024]  # names have 255 letters at most
        name, _, rest = ahead.split(b"\0", 2)
        at += len(ahead) - len(rest)
        size = struct.unpack_from("<I", picture, at)[0]
        said[name] = picture[at + 4 : at + 4 + size]
        at += 4 + size
    return said, at + 1
