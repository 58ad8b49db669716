"""What the header of a picture says of its size, and whether the picture goes on to its end: asked before it is
decoded, since a header of some bytes may ask for more memory than there is.

Formats: PNG (ISO/IEC 15948), JPEG (ITU-T T.81), TIFF 6.0 and BigTIFF, OpenEXR (its file layout), WebP (RFC 9649).
"""

import struct
from collections.abc import Iterator

from . import exr

PNG, JPEG, EXR = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"\x76\x2f\x31\x01"
TIFFS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
WIDEST = 16384  # pixels a side: the largest texture that today's graphics cards take (Vulkan, Direct3D 12)
MOST = 1 << 27  # pixels in all, which take 2 GiB as four numbers each

_WINDOW = b"dataWindow\0box2i\0"  # of an EXR, before its corners
_WIDTH, _HEIGHT = 256, 257  # tags of a TIFF
_NUMBERS = {3: "H", 4: "I", 16: "Q"}  # its kinds of whole numbers
_NO_FRAMES = {0xC4, 0xC8, 0xCC}  # among JPEG's frame markers, those that are none


def fault(picture: bytes) -> str:
    """What is wrong with a picture, "" where nothing is seen to be."""
    try:
        width, height = size(picture)
        if not (width > 0 and height > 0):
            return "says that it has no pixels"
        if max(width, height) > WIDEST or width * height > MOST:
            return f"says that it has {width} × {height} pixels, more than can be worked with"
    except (struct.error, IndexError, StopIteration):
        return "ends in its header"
    return "is cut" if _is_cut(picture) else ""


def size(picture: bytes) -> tuple[int, int]:
    """Width and height by its header; struct.error, IndexError or StopIteration where that does not tell."""
    if picture.startswith(PNG):
        return struct.unpack_from(">II", picture, 16)
    if picture.startswith(JPEG):
        frame = next(at for kind, at in _segments(picture) if 0xC0 <= kind <= 0xCF and kind not in _NO_FRAMES)
        height, width = struct.unpack_from(">HH", picture, frame + 3)
        return width, height
    if picture.startswith(EXR):
        at = picture.index(_WINDOW) + len(_WINDOW) + 4 if _WINDOW in picture else len(picture)
        left, low, right, high = struct.unpack_from("<iiii", picture, at)
        return right - left + 1, high - low + 1
    if picture.startswith(TIFFS):
        tags = dict(_tags(picture))
        return tags.get(_WIDTH, 0), tags.get(_HEIGHT, 0)
    return _of_webp(picture)


def _segments(picture: bytes) -> Iterator[tuple[int, int]]:
    """Kind and place of each segment of a JPEG up to its pixels."""
    at = 2
    while picture[at] == 0xFF:
        kind = picture[at + 1]
        if kind == 0xFF:  # filling
            at += 1
            continue
        yield kind, at + 2
        if kind == 0xDA:
            return
        at += 2 + struct.unpack_from(">H", picture, at + 2)[0]


def _tags(picture: bytes) -> Iterator[tuple[int, int]]:
    """Tag and value of what a TIFF's first directory says in whole numbers."""
    order = "<" if picture[:1] == b"I" else ">"
    is_big = picture[2:4] in (b"+\0", b"\0+")
    at, many, entry = (8, "Q", struct.Struct(order + "HHQ")) if is_big else (4, "H", struct.Struct(order + "HHI"))
    start = struct.unpack_from(order + ("Q" if is_big else "I"), picture, at)[0]
    count = struct.unpack_from(order + many, picture, start)[0]
    first = start + struct.calcsize(order + many)
    step = entry.size + (8 if is_big else 4)
    for n in range(min(count, 4096)):
        tag, kind, _ = entry.unpack_from(picture, first + n * step)
        if kind in _NUMBERS:
            yield tag, struct.unpack_from(order + _NUMBERS[kind], picture, first + n * step + entry.size)[0]


def _of_webp(picture: bytes) -> tuple[int, int]:
    kind = picture[12:16]
    if kind == b"VP8X":
        return tuple(1 + int.from_bytes(picture[at : at + 3], "little") for at in (24, 27))  # type: ignore[return-value]
    if kind == b"VP8L":
        bits = struct.unpack_from("<I", picture, 21)[0]
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    width, height = struct.unpack_from("<HH", picture, 26)
    return width & 0x3FFF, height & 0x3FFF


def _is_cut(picture: bytes) -> bool:
    if picture.startswith(PNG):
        return b"IEND\xae\x42\x60\x82" not in picture
    if picture.startswith(JPEG):
        return picture.rfind(b"\xff\xd9") < picture.rfind(b"\xff\xda")  # a small one in its header has its own end
    if picture.startswith(EXR):
        return not exr.is_whole(picture)
    if picture.startswith(b"RIFF"):
        return len(picture) < 8 + struct.unpack_from("<I", picture, 4)[0]
    return False
