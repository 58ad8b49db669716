"""Whether a Wavefront OBJ is whole, as far as that can be told: the format announces no counts.

Format: Wavefront, Object Files (.obj), version 3.0, where faces lead to corners that stand before them.
"""

import re

_LEAST = {b"v": 3, b"vn": 3, b"vt": 1, b"f": 3}  # words that follow, at least
_COUNTED = (b"v", b"vt", b"vn")  # in the order in which a corner of a face leads to them
_HEADS = {b"o", b"g", b"usemtl", b"s"}  # of what follows
_ENDS = (b"\n", b"\r")
_TAIL = 4096  # bytes at the end that are looked at
_NUMBER = re.compile(rb"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_CORNER = re.compile(rb"-?\d+(?:(/)(-?\d+)?(?:(/)(-?\d+)?)?)?")


def check_end(data: bytes) -> None:
    """ValueError where the last line breaks off in the middle of what it says."""
    (kind, *words), is_ended = _last(data)
    if not is_ended and kind in _LEAST:
        form = _CORNER if kind == b"f" else _NUMBER
        if len(words) < _LEAST[kind] or not all(map(form.fullmatch, words)) or (kind == b"f" and _differ(words)):
            raise ValueError("its last line breaks off: the file is cut")


def doubt(data: bytes) -> str:
    """A sentence where the file may be cut though no line of it is, "" where nothing speaks for that."""
    (kind, *_), is_ended = _last(data)
    if kind in _LEAST and not is_ended:
        return "The file ends without a line break, and may be cut: compare the bricks with the export."
    if kind in (*_COUNTED, *_HEADS):
        return "The file ends before the faces of its last object, and may be cut: compare the bricks with the export."
    return ""


def face_count(data: bytes) -> int:
    """How many faces it tells of, those in lines that begin with blanks left out."""
    return sum(data.count(b"\nf" + blank) + data.startswith(b"f" + blank) for blank in (b" ", b"\t"))


def astray(data: bytes) -> int:
    """How many faces lead to corners, normals or places on a picture that do not stand before them."""
    there, found = dict.fromkeys(_COUNTED, 0), 0
    for line in data.replace(b"\\\n", b" ").splitlines():
        kind, _, rest = line.lstrip().partition(b" ")
        if kind in there:
            there[kind] += 1
        elif kind == b"f":
            many = tuple(there.values())
            found += not all(_leads(corner, many) for corner in rest.split())
    return found


def _leads(corner: bytes, many: tuple[int, ...]) -> bool:
    try:
        numbers = [int(number) if number else 1 for number in corner.split(b"/")]
    except ValueError:
        return False
    asked = [(number, count) for number, count, said in zip(numbers, many, corner.split(b"/"), strict=False) if said]
    return all(0 < number <= count or 0 < -number <= count for number, count in asked)


def _differ(corners: list[bytes]) -> bool:
    """Whether the last corner is told otherwise than the first: with fewer slashes, or with nothing behind one."""
    return [bool(part) for part in corners[-1].split(b"/")] != [bool(part) for part in corners[0].split(b"/")]


def _last(data: bytes) -> tuple[list[bytes], bool]:
    """The words of the last line that says something, comments say nothing, and whether a line break ends it."""
    for line in reversed(data[-_TAIL:].splitlines(keepends=True)):
        words = line.split()
        if words and not words[0].startswith(b"#"):
            return words, line.endswith(_ENDS)
    return [b""], True
