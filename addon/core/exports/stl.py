"""The triangles of an STL file, every one of them.

Blender's own importer drops a triangle that lies on another, which is what bricks are made of where they touch.
"""

import numpy as np

from ..draws import mixed
from ..parts import runs

HEADER, COUNT, RECORD = 80, 4, 50  # bytes; the normal is 12, three corners 36, the attribute 2
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def corners(data: bytes) -> np.ndarray:
    """Corners (T, 3, 3) of a binary or ASCII STL, float64; ValueError says what is wrong with the file."""
    found = _binary(data) if _claims_binary(data) else _ascii(data)
    if not np.isfinite(found).all():
        raise ValueError("a coordinate in it is not a number")
    return found.astype(float)


def distinct(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The distinct points (V, 3) of triangles with corners (T, 3, 3), in the order in which they come, and triangles
    (T, 3) over them. Pieces that were written as closed ones share none: what touches stays apart."""
    soup = corners.reshape(-1, 3)
    word = runs.words(soup)
    if len(corners) >= runs.MANY:
        piece, own = runs.triangles_of(runs.closed(soup, np.arange(len(soup)).reshape(-1, 3)))
        apart = np.zeros(len(corners), dtype=np.uint64)
        apart[own] = piece + 1
        word += np.repeat(mixed(apart), 3)
    order = np.argsort(word, kind="stable")
    fresh = np.r_[True, word[order][1:] != word[order][:-1]][: len(order)]
    first = order[fresh]
    place = np.argsort(first)
    number, back = np.empty(len(soup), dtype=np.int32), np.empty(len(first), dtype=np.int32)
    back[place] = np.arange(len(first))
    number[order] = back[np.cumsum(fresh) - 1]
    points = soup[first[place]]
    if not np.array_equal(points[number], soup):  # two places of one word, which no one has seen yet
        return soup, np.arange(len(soup)).reshape(-1, 3)
    return points, number.reshape(-1, 3)


def _claims_binary(data):
    """ASCII begins with 'solid'; some binary writers put that in their header too, but then the length tells."""
    if data.lstrip()[:5].lower() != b"solid":
        return True
    return len(data) > HEADER + COUNT and len(data) == HEADER + COUNT + RECORD * _count(data)


def _count(data):
    return int.from_bytes(data[HEADER : HEADER + COUNT], "little")


def _binary(data):
    body = data[HEADER + COUNT :]
    if len(data) < HEADER + COUNT or len(body) < RECORD * _count(data):
        raise ValueError(f"it ends after {len(body) // RECORD} of the triangles it announces")
    return np.frombuffer(body, _RECORD, _count(data))["corners"]


def _ascii(data):
    words = data.split()
    if b"endsolid" not in words[-200:]:
        raise ValueError("it ends before its 'endsolid'")
    places = [at for at, word in enumerate(words) if word == b"vertex"]
    try:
        numbers = np.array([words[at + 1 : at + 4] for at in places], dtype=float)
    except ValueError:
        raise ValueError("a corner in it is not three numbers") from None
    if len(numbers) % 3:
        raise ValueError("a triangle in it has not three corners")
    return numbers.reshape(-1, 3, 3)
